"""How the wheels of a stage are kept: under their wrap or bare, in the kitchen fridge or not.

    wrapped = true                      # lived under its wrap, so that no water passes
    in_kitchen_fridge = true            # lived in the kitchen fridge

A stage that is lived bare in the cave leaves both lines out. By them the planner tells when to
wrap and to move a wheel, whatever its stages are called.
"""

from typing import Final

from service.ageing.plan_reading import PlanFile, Section

# Plans that were kept before a stage said so itself are never rewritten. In them the short name
# alone told which stages are lived under a wrap and which in the kitchen fridge; for a stage that
# does not say, these names still do.
_BY_NAME: Final = {
    "wrapped": frozenset({"wrapped", "cold"}),
    "in_kitchen_fridge": frozenset({"cold"}),
}


def read_keeping(stage: Section, slug: str) -> tuple[bool, bool]:
    """Whether a stage is lived under its wrap, and whether in the kitchen fridge.

    Args:
        stage: The stage's table.
        slug: Its short name.

    Raises:
        PlanError: A line says neither true nor false.
    """
    wrapped, in_kitchen_fridge = (
        stage.flag(key) if stage.has(key) else slug in names for key, names in _BY_NAME.items()
    )
    return wrapped, in_kitchen_fridge


def said_outright(text: str, name: str) -> str:
    """The text of a plan with what only the names of its stages told written out in lines.

    So a maker who edits an old plan may give its stages other names.

    Args:
        text: The whole file, which can be read.
        name: What to call the file in messages.
    """
    lines = text.split("\n")
    for stage in reversed(PlanFile(text, name).top.sections("stages")):
        slug, number = stage.slug("slug"), stage.line("slug")
        if number is not None and lines[number - 1].rstrip().endswith(f'"{slug}"'):
            lines[number:number] = [
                f"{key} = true"
                for key, names in _BY_NAME.items()
                if slug in names and not stage.has(key)
            ]
    return "\n".join(lines)
