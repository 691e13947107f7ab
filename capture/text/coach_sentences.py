"""What the coach and the judgement of a grind say, by name; part of the table in `catalogue`."""

from __future__ import annotations

from typing import Final

COACH_SENTENCES: Final[dict[str, str]] = {
    # what speaks against the figures
    "doubt.infeed": "the infeed of pass {number:.0f} does not fit the sizes",
    "doubt.dressed": "the sizes look as if the wheel was dressed or set anew before pass {number:.0f}",
    "doubt.size": "a size after pass {number:.0f} does not fit the others",
    "doubt.dial-half": "the sizes look as if the dial shows half of each infeed",
    "doubt.dial-twice": "the sizes look as if the dial shows twice each infeed",
    "doubt.lost": "the sizes do not follow the infeeds",
    "outlook.few": "{passes:.0f} passes are measured so far: it takes {fewest:.0f}",
    "outlook.no-infeed": "the infeed is not known",
    "outlook.untold": "no infeed is known: the sizes show when the feeding stopped",
    "outlook.by-sizes": "judged by the sizes of the last {passes:.0f} passes alone",
    "outlook.warming": "the part seems to be getting warm",
    "outlook.no-temperature": "no temperature known",
    "outlook.not-touching": "the wheel seems not to touch yet",
    "outlook.shrunk-away": "the part seems to have shrunk away from the wheel",
    # why no more, or no less, is advised
    "infeed.little-stock": "little stock, and nobody knows the spring yet: a pass without infeed shows it",
    "infeed.unmeasured": "the newest pass has not been measured",
    "infeed.not-known": "the infeed of the newest pass is not known",
    "infeed.may-be-warm": "it may be warm, and there is no probe on it",
    "infeed.too-deep": "as the wheel stands the part could end undersize",
    "infeed.sooner": "drawn back a little, the wheel sparks out sooner, and the part stays inside the band",
    "infeed.not-sure-inside": "not yet sure to be inside the band",
    "infeed.not-sure-to-feed": "one more infeed could make it undersize",
    "infeed.reading-may-allow": "one more reading may allow a deeper infeed",
    "infeed.no-deeper": "no deeper: the part could end undersize",
    "soak.few": "{readings:.0f} readings: three are needed to see where the size goes",
    "soak.stray": (
        "the readings stray {times:.1f} times their uncertainty from any cooling curve: "
        "something else is changing"
    ),
    "soak.settled": "at one temperature: measure now",
    "soak.short": "the readings do not show the end yet: take more over the next {minutes:.0f} min",
    "soak.settling": "measure again in {minutes:.0f} min",
    "table.parallel": "parallel enough",
    "table.spring": "the spring still hides where the taper goes",
    "table.unseen": "less than the gauge can see",
    "table.no-stock": "moving the table takes the smaller end under size",
    "table.just-moved": "the table was just moved",
    "table.little-stock": "little stock for it",
    "played.table": "the table was moved, and this is not played through",
    "played.no-infeed": "an infeed is not known",
    "played.little": "the passes show too little of the machine",
    "played.not-landed": "not landed within {passes:.0f} passes",
    # the next step: the first word says what to do
    "coach.measure": "measure this pass",
    "coach.measure-place": "measure at {place}: the last place of this pass",
    "coach.measure-places": "measure at {place}, and {more:.0f} more of this pass",
    "coach.table": "move the table {moved} on its indicator",
    "coach.dress": "dress the wheel now: the last stock begins",
    "coach.feed": "feed {infeed}",
    "coach.infeed-division": "{number:.0f} division ({depth} on {dial})",
    "coach.infeed-divisions": "{number:.0f} divisions ({depth} on {dial})",
    "coach.rest": "pass without infeed",
    "coach.rest-for": "no infeed: {to_come} will still come off",
    "coach.draw-back": "draw back {infeed}: {to_come} would still come off",
    "coach.draw-back-alone": "draw back {infeed}",
    "coach.measure-again": "measure again",
    "coach.measure-again-for": "measure again: {chances}",
    "coach.wait": "stop and wait {wait}, then measure again",
    "coach.cannot-tell": "no infeed: the readings do not show what to do next",
    "coach.leave-it": "done: on size; leave it",
    "coach.done": "done: on size and sparked out",
    "coach.undersize": "stop: undersize",
    "coach.not-sure": "stop: {chances}",
    "coach.stop-warm": "stop and wait {wait}: warm, {growth} larger than it will be",
    "coach.stop-cold": "stop and wait {wait}: cold, {growth} smaller than it will be",
    "coach.chances-unknown": "nobody knows how sure it is to be on size",
    "coach.chance-under": "{inside} sure to be inside the band, {beside} to be under it",
    "coach.chance-over": "{inside} sure to be inside the band, {beside} to be over it",
    "wait.unknown": "a while",
    "wait.minutes": "{time:.0f} min",
    "wait.hours": "{time:.0f} h",
    # what else is worth knowing
    "coach.then-feeds": "then {feeds:.0f} more with infeed",
    "coach.then-rests": "then about {rests:.0f} without",
    "coach.then-both": "then {feeds:.0f} more with infeed, about {rests:.0f} without",
    "coach.risk": (
        "chance of undersize: {now} after the next pass (limit {limit}), {end} if you never draw back"
    ),
    "coach.readings": "take {readings:.0f} readings after the next pass",
    "coach.growth-larger": (
        "the part is {growth} larger than at 20 °C: wait {wait}, or grind on to {hot} as it is"
    ),
    "coach.growth-smaller": (
        "the part is {growth} smaller than at 20 °C: wait {wait}, or grind on to {hot} as it is"
    ),
    "coach.growth-long": "{wait} (minutes with coolant running)",
    "coach.soak": "the size is heading for {end} ± {u}: {advice}",
    "coach.pause-cold": "the part was not warm before the pause",
    "coach.pause-warm": "before the pause the part was {fall} larger for being warm",
    "coach.taper": "taper {taper} ± {u} when sparked out: {advice}",
    "coach.taper-measure": "{taper} both ends after {passes:.0f} more passes",
    "coach.taper-measure-one": "{taper} both ends after 1 more pass",
    "coach.taper-why": "{taper} ({why})",
    "coach.taper-obeys": "{taper}; the table did {obeys} ± {u} of what its indicator showed",
    # what does not fit, as a question
    "ask.dial": "the sheet says the dial is on {dial}: is it? {doubt}",
    "ask.doubt": (
        "{doubt}: is a pass missing, an infeed mistyped, another place measured, the wheel dressed?"
    ),
    "ask.dress": "a pass takes {share} of what is to come, it took {best}: dress the wheel?",
    "ask.loose": "readings scatter {seen}, the gauge alone {due}: a loose centre, or a chip?",
    "ask.same-wheel": (
        "a pass takes {share} of what is to come, in earlier jobs {known}: is it the same wheel?"
    ),
}
