"""Plies onto rolls: which lay takes how many plies from which roll or end, what is left, and what to buy."""

from planner.core.rolls.assign import assign_plies as assign_plies
from planner.core.rolls.buying import RollsToBuy as RollsToBuy
from planner.core.rolls.buying import what_to_buy as what_to_buy
from planner.core.rolls.least_lost import FlawedRoll as FlawedRoll
from planner.core.rolls.least_lost import LayOnRolls as LayOnRolls
from planner.core.rolls.least_lost import orders_losing_least as orders_losing_least
from planner.core.rolls.left import still_from as still_from
from planner.core.rolls.model import PliesShort as PliesShort
from planner.core.rolls.model import PliesWanted as PliesWanted
from planner.core.rolls.model import Remnant as Remnant
from planner.core.rolls.model import RollAnswer as RollAnswer
from planner.core.rolls.model import RollCut as RollCut
from planner.core.rolls.model import RollQuestion as RollQuestion
from planner.core.rolls.model import RollThere as RollThere
from planner.core.rolls.promised import BY_TAPE_MM as BY_TAPE_MM
from planner.core.rolls.promised import Placed as Placed
from planner.core.rolls.promised import PliesPromised as PliesPromised
from planner.core.rolls.promised import RunOnRoll as RunOnRoll
from planner.core.rolls.promised import less_promised as less_promised
from planner.core.rolls.promised import less_taken as less_taken
from planner.core.rolls.promised import place_promised as place_promised
from planner.core.rolls.stretches import free_stretches as free_stretches
from planner.core.rolls.stretches import longest_plies as longest_plies
