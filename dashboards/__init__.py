"""What a person sees: pages, charts and the shelf."""
