"""The first line of a review: how much is in the file, what would change, and what is to be looked at first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.core.uneven_sizes import UnevenSize, uneven_sizes
from planner.styles.review_forms import ReviewForm
from planner.styles.reviewing_remarks import Remark

#: Sizes out of line by the number of the piece in the file.
Uneven = Mapping[int, Sequence[UnevenSize]]


def uneven_in(form: ReviewForm) -> dict[int, list[UnevenSize]]:
    """What is out of line in the pieces that are taken, as they would be stored."""
    rank = {size: i for i, size in enumerate(form.known.sizes or form.answers.sizes.values())}
    found = {}
    for proposal in form.proposals:
        in_order = sorted(proposal.by_size.items(), key=lambda item: rank.get(item[0], len(rank)))
        odd = (
            uneven_sizes([(size, new.outline) for size, new in in_order], form.display)
            if proposal.take
            else []
        )
        if odd:
            found[proposal.index] = odd
    return found


def uneven_said(form: ReviewForm, uneven: Uneven) -> list[Remark]:
    """The same in words, by piece and size."""
    return [
        Remark(f"{proposal.name} {one.size}", one.what)
        for proposal in form.proposals
        for one in uneven.get(proposal.index, ())
    ]


def answer_of(form: ReviewForm, uneven: Uneven) -> str:
    """How much there is, what would change, and what is to be looked at first."""
    said = [_counted(form)]
    mended = [proposal.name for proposal in form.proposals if proposal.take and proposal.mends]
    if mended:
        lines = "mended line" if len(mended) == 1 else "mended lines"
        said.append(
            f"The {lines} of {_listed(mended)} {'waits' if len(mended) == 1 else 'wait'} for your word."
        )
    odd = [remark.where for remark in uneven_said(form, uneven)]
    if odd:
        said.append(f"Does not grow evenly: {_listed(odd)}.")
    if not form.proposals or any(p.target is None or p.changed for p in form.proposals):
        said.append("Nothing is kept before you take it over.")
    return " ".join(said)


def _listed(names: Sequence[str]) -> str:
    """Three at most by name."""
    more = len(names) - 3
    return ", ".join(names[:3]) + (f" and {more} more" if more > 0 else "")


def _counted(form: ReviewForm) -> str:
    pieces, sizes = len(form.proposals), len(form.file_sizes)
    counted = f"{pieces} piece{'' if pieces == 1 else 's'}"
    if any(form.file_sizes):
        counted += f" in {sizes} size{'' if sizes == 1 else 's'}"
    known = [proposal for proposal in form.proposals if proposal.target]
    if not known:
        return f"{counted}."
    changed = sum(len(proposal.changed) for proposal in known)
    if not changed and len(known) == pieces:
        return f"{counted}, all as the style has them already."
    outlines = (
        f"{changed} outline{'' if changed == 1 else 's'} would change" if changed else "no outline changes"
    )
    new = pieces - len(known)
    return f"{counted}: {outlines}{f', {new} new' if new else ''}."
