"""What the background worker does for this room."""

from django_tasks import task


@task()
def nest_marker(pk: int) -> str:
    """Nests one marker; harmless when asked twice."""
    from planner.cutting.actions.nesting import nest_one

    return nest_one(pk)
