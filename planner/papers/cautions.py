"""The usual cautions printed where the work can hurt somebody. They never replace local rules."""

from __future__ import annotations

DEFER = "Local law and the advice of a qualified person come first."

BLADES = (
    "Rotary cutters and powered knives cut deeply: guard down when laid aside, a cut-resistant glove on the "
    "hand that holds the cloth, the blade moving away from the body. Unplug before changing a blade."
)
NEEDLES = (
    "Pins and needles: count pins back into their box. When a needle breaks, stop and find every "
    "fragment before the bundle goes on."
)
FIRE = (
    "Cloth burns: keep lint, cloth and irons apart. Clothing has flammability rules of its own "
    "(in the United States 16 CFR 1610); brushed, napped and very light cloth is the most at risk."
)
#: On papers of a lay whose cut plan does not stand yet.
NOT_SETTLED = (
    "Not settled yet: this lay may become another one. Wait with cutting, and print it again once it is."
)
#: What to do with a bundle whose plies turned out to be of several lots.
TIE_APART = "Tie each lot as a bundle of its own: no garment may be of two."
CUTTING_TABLE = (BLADES, NEEDLES, FIRE)

#: Before the shears are taken up (common practice).
BEFORE_CUTTING = (
    "Measure the usable width of every roll; a roll narrower than the lay drawn here cannot take it.",
    "Look the cloth over for flaws and mark them. Keep shade lots apart: one garment, one shade lot.",
    "Unroll knit cloth and let it relax flat for 24 h before it is cut (common practice).",
    "Press wrinkles out, square the ends, and lay without stretching.",
    "Cut one lay and check its pieces against the pattern before cutting the next.",
)
