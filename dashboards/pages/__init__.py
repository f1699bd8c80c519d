"""Pages: what a person sees, made by the server and readable with scripts off."""
