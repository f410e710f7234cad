"""Wrong files of every kind: each is refused at its place, by its address, with words that mend it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import pytest

from sweep import cli
from sweep.campaign.campaign import load_campaign
from sweep.campaign.contradictions import keel_afloat
from sweep.campaign.craft import Rangefinders
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.model.pack.mass import mass_properties
from tests.campaign.files import Changes, write


class Wrong(NamedTuple):
    """One piece exchanged, where that shows (address, line), and the words that mend it."""

    old: str
    new: str
    address: str
    line: int
    mend: str


AREA = "factors.foils.*.area"
CHOP = "{kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}"
WAKE = "{kind: packet, height: 4 cm, period: 1.2 s, waves: 3, arrives: 10 s}"
CAMPAIGNS = {
    "bare number": Wrong("[14 cm,", "[14,", "factors.struts.height[0]", 6, "14 cm, 14 mm, 14 m or 14 in"),
    "wrong dimension": Wrong("from: 36 cm^2", "from: 36 kg", f"{AREA}.from", 5, "found '36 kg', a mass, wanted an area"),
    "unknown unit": Wrong("[14 cm,", "[14 cmm,", "factors.struts.height[0]", 6, "the nearest: mm or cm"),
    "decimal comma": Wrong("[14 cm,", "['1,4 cm',", "factors.struts.height[0]", 6, "with a point, not a comma"),
    "unknown key": Wrong("settle:", "setle:", "flight.setle", 20, "a known key, perhaps settle"),
    "no space after a colon": Wrong(
        "cm^2, levels: 4", "cm^2, levels:4", f"{AREA}.levels:4", 5, "a space after the colon: levels: 4"
    ),
    "unknown section": Wrong("plan:", "plans:", "plans", 11, "a known key, perhaps plan"),
    "empty list": Wrong("[14 cm, 18 cm, 22 cm]", "[]", "factors.struts.height", 6, "at least 2 entries"),
    "one level": Wrong("[14 cm, 18 cm, 22 cm]", "[14 cm]", "factors.struts.height", 6, "at least 2 entries"),
    "levels: 0": Wrong("cm^2, levels: 4", "cm^2, levels: 0", f"{AREA}.levels", 5, "at least 2"),
    "no levels": Wrong("cm^2, levels: 4", "cm^2", AREA, 5, "levels: how many steps of the range"),
    "half a range": Wrong(", to: 72 cm^2", "", AREA, 5, "both from: and to:"),
    "list and range": Wrong("cm^2, levels: 4", "cm^2, levels: [36 cm^2, 40 cm^2]", AREA, 5, "either levels: [...] or both"),
    "one value": Wrong("[1, 2, 3]", "2", "factors.rangefinders.count", 7, "a list of levels [14 cm, 18 cm] or a range"),
    "range turned round": Wrong("from: 36 cm^2", "from: 96 cm^2", f"{AREA}.to", 5, "more than from"),
    "level twice": Wrong("[1, 2, 3]", "[1, 2, 2]", "factors.rangefinders.count[2]", 7, "every level once"),
    "level of half a sensor": Wrong("[1, 2, 3]", "[1, 2.5]", "factors.rangefinders.count[1]", 7, "a whole number"),
    "true as a level": Wrong("[1, 2, 3]", "[1, true]", "factors.rangefinders.count[1]", 7, "one level, such as 18 cm"),
    "nothing as a level": Wrong("[1, 2, 3]", "[1, ~]", "factors.rangefinders.count[1]", 7, "one level, such as 18 cm"),
    "too many sensors": Wrong("[1, 2, 3]", "[1, 9]", "factors.rangefinders.count[1]", 7, "at most 4"),
    "unknown word": Wrong(
        "[bow, over-foils]", "[bow, stern]", "factors.rangefinders.layout[1]", 8, "'across-bow' or 'over-foils'"
    ),
    "range of words": Wrong("[bow, over-foils]", "{from: 1, to: 2}", "factors.rangefinders.layout", 8, "a list of words"),
    "negative length": Wrong("[14 cm,", "[-14 cm,", "factors.struts.height[0]", 6, "more than 0 cm"),
    "logarithm of nothing": Wrong(
        "from: 0.2 deg/cm", "from: 0 deg/cm", "factors.control.height.proportional.from", 9, "where spacing is log"
    ),
    "address of nothing": Wrong("foils.*.area", "foils.*.aera", "factors.foils.*.aera", 5, "the nearest: foils.*.area"),
    "address misspelled": Wrong("struts.height", "strut.hieght", "factors.strut.hieght", 6, "the nearest: struts.height"),
    "address of a group": Wrong("struts.height", "struts", "factors.struts", 6, "struts.height, struts.chord"),
    "one of the addresses": Wrong(
        "foils.starboard.x", "foils.starbord.x", "factors.arm.addresses[1]", 10, "the nearest: foils.starboard.x"
    ),
    "no addresses": Wrong("[foils.port.x, foils.starboard.x]", "[]", "factors.arm.addresses", 10, "at least 1 entry"),
    "address twice": Wrong("[foils.port.x,", "[struts.height,", "factors.arm", 10, "every address in one factor"),
    "addresses of two kinds": Wrong(
        "foils.starboard.x", "foils.port.dihedral", "factors.arm.levels[0]", 10, "an angle, such as 20 deg"
    ),
    "name of a column": Wrong("arm:", "mass:", "factors.mass", 10, "another name"),
    "impossible craft": Wrong(
        "struts.height: [14 cm,", "rangefinders.blind: [2 m,", "factors.rangefinders.blind[0]", 6, "under the far limit, 100 cm"
    ),
    "a clock that stands": Wrong(
        "struts.height: [14 cm, 18 cm, 22 cm]", "control.rate: [1e-30 Hz, 50 Hz]", "factors.control.rate[0]", 6, "at least 1 Hz"
    ),
    "unbuildable strut": Wrong(
        "struts.height: [14 cm, 18 cm, 22 cm]",
        "struts.chord: [2 mm, 3 cm]",
        "factors.struts.chord[0]",
        6,
        "a strut thinner than its chord",
    ),
    "two shapes of a foil": Wrong(
        "foils.*.area: {from: 36 cm^2, to: 72 cm^2",
        "foils.*.span: {from: 10 cm, to: 20 cm",
        "factors.foils.*.span.from",
        5,
        "either of aspect_ratio and span",
    ),
    "law of another boat": Wrong(
        "rangefinders.layout: [bow, over-foils]",
        "control.law: [each-foil, hovering]",
        "factors.control.law[1]",
        8,
        "'level-and-height', 'fused-height', 'each-foil', 'own-code' or 'cascaded'",
    ),
    "scheduling without a speed": Wrong(
        "rangefinders.layout: [bow, over-foils]",
        "control.scheduling: [fixed, dynamic-pressure]",
        "factors.control.scheduling[1]",
        8,
        "scheduled_at beside it",
    ),
    "no foil of that name": Wrong(
        "rangefinders.layout: [bow, over-foils]",
        "steering.rudder: [aft, bow]",
        "factors.steering.rudder[1]",
        8,
        "port, starboard or aft",
    ),
    "unknown plan": Wrong(
        "full-factorial", "random", "plan", 11, "one of full-factorial, {kind: latin-hypercube, designs: 200}"
    ),
    "unknown kind of plan": Wrong(
        "full-factorial", "{kind: random}", "plan.kind", 11, "one of full-factorial, latin-hypercube"
    ),
    "plan of no kind": Wrong(
        "full-factorial", "{designs: 9}", "plan", 11, "a kind: one of full-factorial, latin-hypercube, sobol"
    ),
    "plan by its word": Wrong("full-factorial", "sobol", "plan", 11, "{kind: sobol, designs: 256}"),
    "plan without designs": Wrong(
        "full-factorial", "{kind: latin-hypercube}", "plan.designs", 11, "a whole number, such as 2 (how many"
    ),
    "designs of a factorial": Wrong(
        "full-factorial", "{kind: full-factorial, designs: 9}", "plan.designs", 11, "the levels of the factors say how many"
    ),
    "seed of a factorial": Wrong("full-factorial", "{kind: full-factorial, seed: 9}", "plan.seed", 11, "only kind"),
    "no designs": Wrong("full-factorial", "{kind: sobol, designs: 0}", "plan.designs", 11, "at least 1"),
    "half a design": Wrong("full-factorial", "{kind: sobol, designs: 2.5}", "plan.designs", 11, "a whole number"),
    "variance of nothing": Wrong("full-factorial", "{kind: variance-based, base: 1}", "plan.base", 11, "at least 2"),
    "variance by designs": Wrong(
        "full-factorial", "{kind: variance-based, designs: 64}", "plan.designs", 11, "kind, base, seed"
    ),
    "list without a file": Wrong("full-factorial", "{kind: listed}", "plan.file", 11, "the path of a CSV, seen from here"),
    "list that is not there": Wrong(
        "full-factorial", "{kind: listed, file: designs.csv}", "plan.file", 11, "the path of a CSV, seen from here"
    ),
    "unknown sea": Wrong("kind: jonswap", "kind: jonswop", "conditions.seas.chop.kind", 15, "flat, regular, jonswap"),
    "sea without kind": Wrong("kind: jonswap, ", "", "conditions.seas.chop", 15, "a kind: one of flat, regular, jonswap"),
    "sea without period": Wrong(", period: 1.2 s", "", "conditions.seas.chop.period", 15, "a time, such as 10 s"),
    "flat sea with waves": Wrong(
        "{kind: flat}", "{kind: flat, height: 3 cm}", "conditions.seas.calm.height", 14, "one of kind, wind"
    ),
    "a gale over calm water": Wrong(
        "{kind: flat}", "{kind: flat, wind: 50 m/s}", "conditions.seas.calm.wind", 14, "at most 30 m/s"
    ),
    "calm water has no waves to turn from": Wrong(
        "{kind: flat}",
        "{kind: flat, wind: 5 m/s, wind_turned: 10 deg}",
        "conditions.seas.calm.wind_turned",
        14,
        "one of kind, wind",
    ),
    "too steep": Wrong(
        "[4 cm, 8 cm], period: 1.2 s",
        "[4 cm, 8 cm], period: 0.7 s",
        "conditions.seas.chop.height[1]",
        15,
        "height at most 5.35 cm at this period, or a longer one",
    ),
    "breaking swell": Wrong(
        "height: 5 cm, period: [1 s,",
        "height: 25 cm, period: [1 s,",
        "conditions.seas.swell.height",
        16,
        "waves that do not break",
    ),
    "ripples": Wrong("period: 1.2 s", "period: 0.2 s", "conditions.seas.chop.period", 15, "at least 0.32 s"),
    "peakedness": Wrong("period: 1.2 s", "period: 1.2 s, gamma: 0.5", "conditions.seas.chop.gamma", 15, "at least 1"),
    "not a number": Wrong("[4 cm, 8 cm]", "[.nan, 8 cm]", "conditions.seas.chop.height[0]", 15, "a length that is finite"),
    "beyond numbers": Wrong(
        "[4 cm, 8 cm]", "[1e400 cm, 8 cm]", "conditions.seas.chop.height[0]", 15, "a length that is finite"
    ),
    "spreading of a wave train": Wrong(
        "height: 5 cm, period: [1 s,",
        "spreading: 9, height: 5 cm, period: [1 s,",
        "conditions.seas.swell.spreading",
        16,
        "one of height, period",
    ),
    "spreading of nothing": Wrong(
        "period: 1.2 s", "period: 1.2 s, spreading: 0.2", "conditions.seas.chop.spreading", 15, "at least 1"
    ),
    "spreading in degrees": Wrong(
        "period: 1.2 s", "period: 1.2 s, spreading: 30 deg", "conditions.seas.chop.spreading", 15, "a plain number"
    ),
    "turned by a number": Wrong("period: 1.2 s", "period: 1.2 s, turned: 30", "conditions.seas.chop.turned", 15, "30 deg"),
    "wind without fetch": Wrong(
        CHOP, "{kind: wind, speed: 3 m/s}", "conditions.seas.chop.fetch", 15, "a length, such as 10 cm"
    ),
    "wind by its waves": Wrong(
        CHOP,
        "{kind: wind, speed: 3 m/s, fetch: 1 km, height: 4 cm}",
        "conditions.seas.chop.height",
        15,
        "one of kind, speed, fetch",
    ),
    "wind over a puddle": Wrong(
        CHOP, "{kind: wind, speed: 3 m/s, fetch: 3 m}", "conditions.seas.chop.fetch", 15, "at least 20 m"
    ),
    "breath of wind": Wrong(
        CHOP, "{kind: wind, speed: [3 m/s, 0.2 m/s], fetch: 1 km}", "conditions.seas.chop.speed[1]", 15, "at least 1 m/s"
    ),
    "wind that makes ripples": Wrong(
        CHOP, "{kind: wind, speed: 1 m/s, fetch: 20 m}", "conditions.seas.chop.speed", 15, "a stronger wind or a longer fetch"
    ),
    "gale over a pond": Wrong(
        CHOP, "{kind: wind, speed: [3 m/s, 25 m/s], fetch: 50 m}", "conditions.seas.chop.speed[1]", 15, "a weaker wind"
    ),
    "code alone": Wrong(CHOP, "{kind: code, state: 1}", "conditions.seas.chop.height", 15, "a length, such as 10 cm"),
    "height beyond its code": Wrong(
        CHOP,
        "{kind: code, state: 1, height: [4 cm, 12 cm], period: 2 s}",
        "conditions.seas.chop.height[1]",
        15,
        "over 0 cm up to 10 cm",
    ),
    "height under its code": Wrong(
        CHOP, "{kind: code, state: 2, height: 8 cm, period: 2 s}", "conditions.seas.chop.height", 15, "over 10 cm up to 50 cm"
    ),
    "code of a calm": Wrong(
        CHOP, "{kind: code, state: 0, height: 1 cm, period: 1 s}", "conditions.seas.chop.state", 15, "kind: flat"
    ),
    "code off the table": Wrong(
        CHOP, "{kind: code, state: 12, height: 1 cm, period: 1 s}", "conditions.seas.chop.state", 15, "at most 9"
    ),
    "wake without waves": Wrong(
        CHOP,
        "{kind: packet, height: 4 cm, period: 1 s, arrives: 10 s}",
        "conditions.seas.chop.waves",
        15,
        "a plain number (how many",
    ),
    "wake of one wave": Wrong(
        CHOP,
        "{kind: packet, height: 4 cm, period: 1 s, waves: 1, arrives: 10 s}",
        "conditions.seas.chop.waves",
        15,
        "at least 3",
    ),
    "wake that comes too early": Wrong(
        CHOP, WAKE.replace("arrives: 10 s", "arrives: 2 s"), "conditions.seas.chop.arrives", 15, "a time between 5 s and 40 s"
    ),
    "wake that comes too late": Wrong(
        CHOP, WAKE.replace("arrives: 10 s", "arrives: 40 s"), "conditions.seas.chop.arrives", 15, "a time between 5 s and 40 s"
    ),
    "wake that would come again": Wrong(
        CHOP, WAKE.replace("period: 1.2 s", "period: 0.5 s"), "conditions.seas.chop.waves", 15, "a flight of at most 20 s"
    ),
    "wake that breaks": Wrong(
        CHOP, WAKE.replace("height: 4 cm", "height: 40 cm"), "conditions.seas.chop.height", 15, "waves that do not break"
    ),
    "sum of one": Wrong(CHOP, f"{{kind: sum, of: [{CHOP}]}}", "conditions.seas.chop.of", 15, "at least 2 entries"),
    "sum of a calm": Wrong(
        CHOP, f"{{kind: sum, of: [{CHOP}, {{kind: flat}}]}}", "conditions.seas.chop.of[1].kind", 15, "one of regular, jonswap"
    ),
    "sum of names": Wrong(
        CHOP, "{kind: sum, of: [swell, calm]}", "conditions.seas.chop.of[0]", 15, "with a kind: one of regular, jonswap"
    ),
    "sum of two wakes": Wrong(
        CHOP, f"{{kind: sum, of: [{WAKE}, {WAKE}]}}", "conditions.seas.chop.of[1]", 15, "one packet in a sum"
    ),
    "late wake in a sum": Wrong(
        CHOP,
        f"{{kind: sum, of: [{CHOP}, {WAKE.replace('arrives: 10 s', 'arrives: 50 s')}]}}",
        "conditions.seas.chop.of[1].arrives",
        15,
        "a time between 5 s and 40 s",
    ),
    "steep part of a sum": Wrong(
        CHOP,
        f"{{kind: sum, of: [{CHOP}, {{kind: bretschneider, height: 30 cm, period: 1 s}}]}}",
        "conditions.seas.chop.of[1].height",
        15,
        "height at most 10.92 cm at this period",
    ),
    "two seas of a name": Wrong(
        "    calm: {kind: flat}", "    chop 4 cm: {kind: flat}", "conditions.seas", 14, "every sea by a name of its own"
    ),
    "sea without a name": Wrong("chop:", "'4 cm':", "conditions.seas.4 cm", 15, "a name of letters, digits, spaces, - and _"),
    "unknown heading": Wrong(
        "120 deg]", "sideways]", "conditions.headings[1]", 17, "head, bow, beam, quartering or following, or an angle"
    ),
    "heading by another word": Wrong("120 deg]", "upwind]", "conditions.headings[1]", 17, "wanted head for that"),
    "heading without unit": Wrong("120 deg]", "120]", "conditions.headings[1]", 17, "an angle such as 120 deg"),
    "heading round the clock": Wrong(
        "120 deg]", "420 deg]", "conditions.headings[1]", 17, "from 0 deg (following) to 180 deg (head)"
    ),
    "heading twice": Wrong("120 deg]", "180 deg]", "conditions.headings[1]", 17, "every heading once"),
    "speed twice": Wrong("9 km/h]", "350 cm/s]", "conditions.speeds[1]", 18, "every speed once"),
    "speed without unit": Wrong("[3.5 m/s,", "[3.5,", "conditions.speeds[0]", 18, "3.5 m/s, 3.5 kn"),
    "standing still": Wrong("[3.5 m/s,", "[0 m/s,", "conditions.speeds[0]", 18, "more than 0 m/s"),
    "no speeds": Wrong("[3.5 m/s, 9 km/h]", "[]", "conditions.speeds", 18, "at least 1 entry"),
    "fault of a rangefinder that no design has": Wrong(
        "replicates: 4",
        "replicates: 4\n  faults: [{silent: {where: rangefinders.4, from: 6 s}}]",
        "conditions.faults[0].silent.where",
        20,
        "wanted rangefinders.1, rangefinders.2, rangefinders.3 or rangefinders.*",
    ),
    "fault to come": Wrong("replicates: 4", "faults: [weed]", "conditions.faults[0]", 19, "none, or a mapping of weed"),
    "no replicates": Wrong("replicates: 4", "replicates: 0", "conditions.replicates", 19, "at least 1"),
    "true replicates": Wrong("replicates: 4", "replicates: true", "conditions.replicates", 19, "a whole number, such as 2"),
    "all settling": Wrong("settle: 5 s", "settle: 40 s", "flight.settle", 20, "settle shorter than length"),
    "list for mapping": Wrong(
        "{length: 40 s, settle: 5 s, seed: 7}", "[40 s]", "flight", 20, "a mapping of start, length, settle and seed"
    ),
    "start from nowhere": Wrong("settle: 5 s", "start: moored", "flight.start", 20, "'flying' or 'rest'"),
    "take-off of a boat that flies": Wrong(
        "pitch_rms: {weight: 0.3, scale: 2 deg}",
        "take_off_time: {scale: 5 s}",
        "score.take_off_time",
        24,
        "flight: {start: rest}",
    ),
    "negative seed": Wrong("seed: 7", "seed: -7", "flight.seed", 20, "at least 0"),
    "unknown limit": Wrong("touchdowns: 1 /min", "touchdown: 1 /min", "limits.touchdown", 21, "perhaps touchdowns"),
    "limit on a mean": Wrong(
        "touchdowns: 1 /min", "speed_mean: 3 m/s", "limits.speed_mean", 21, "neither counted as events nor as flights"
    ),
    "limit without unit": Wrong("touchdowns: 1 /min", "touchdowns: 1", "limits.touchdowns", 21, "1 /min"),
    "limit over everything": Wrong("upsets: 2 %", "upsets: 200 %", "limits.upsets", 21, "at most 100 %"),
    "unknown response": Wrong("pitch_rms", "pitch_rsm", "score.pitch_rsm", 24, "perhaps pitch_rms"),
    "response better when larger": Wrong(
        "pitch_rms", "clearance_p01", "score.clearance_p01", 24, "not one that is better when smaller"
    ),
    "scale of another kind": Wrong("scale: 1 cm", "scale: 1 kg", "score.ride_height_error.scale", 23, "a length, such as 1 cm"),
    "scale of nothing": Wrong("scale: 1 cm", "scale: 0 cm", "score.ride_height_error.scale", 23, "more than 0 cm"),
    "no scale": Wrong(", scale: 1 cm", "", "score.ride_height_error.scale", 23, "a length, such as 10 cm"),
    "negative weight": Wrong("weight: 0.3", "weight: -0.3", "score.pitch_rms.weight", 24, "more than 0"),
    "weight in quotes": Wrong("weight: 0.3", "weight: '0.3'", "score.pitch_rms.weight", 24, "a plain number"),
    "warm water": Wrong("18 degC", "80 degC", "water.temperature", 3, "at most 40 degC"),
    "temperature without scale": Wrong("18 degC", "18", "water.temperature", 3, "18 degC, 18 degF or 18 K"),
    "brackish": Wrong("kind: fresh", "kind: brackish", "water.kind", 3, "'fresh' or 'sea'"),
    "no water": Wrong("depth: 4 m", "depth: 0 m", "water.depth", 3, "at least 0.05 m"),
    "number for a title": Wrong("title: Tender in a chop", "title: 2024", "title", 1, "text (in quotes"),
    "no title": Wrong("title: Tender in a chop\n", "", "title", 1, "text"),
    "no craft": Wrong("craft: tender.yaml\n", "", "craft", 1, "the craft file's path, seen from here, or the craft itself"),
    "empty craft": Wrong(
        "craft: tender.yaml", "craft:", "craft", 2, "the craft file's path, seen from here, or the craft itself"
    ),
    "no such craft": Wrong(
        "craft: tender.yaml", "craft: tander.yaml", "craft", 2, "the craft file's path, seen from here, or the craft itself"
    ),
    "craft is a folder": Wrong(
        "craft: tender.yaml", "craft: .", "craft", 2, "the craft file's path, seen from here, or the craft itself"
    ),
}

CRAFTS = {
    "bare mass": Wrong("mass: 3 kg", "mass: 3", "body.mass", 2, "3 kg, 3 g, 3 lb or 3 oz"),
    "no mass": Wrong("mass: 3 kg", "mass: 0 kg", "body.mass", 2, "more than 0 kg"),
    "missing key": Wrong(", depth: 12 cm", "", "hulls.main.depth", 4, "a length, such as 10 cm or 10 mm (keel to deck)"),
    "misspelled key": Wrong("deadrise", "deadrice", "hulls.main.deadrice", 4, "perhaps deadrise"),
    "flat bottom": Wrong("deadrise: 14 deg", "deadrise: 0 deg", "hulls.main.deadrise", 4, "more than 2.86479 deg"),
    "blind beyond far": Wrong("blind: 2 cm", "blind: 2 m", "rangefinders.blind", 10, "under the far limit, 100 cm"),
    "rudder is no foil": Wrong("rudder: aft", "rudder: stern", "steering.rudder", 12, "port, starboard or aft"),
    "two shapes": Wrong(
        "area: 50 cm^2, aspect_ratio: 6",
        "area: 50 cm^2, span: 17 cm, aspect_ratio: 6",
        "foils.port",
        6,
        "either of aspect_ratio and span",
    ),
    "no shape": Wrong("area: 50 cm^2, aspect_ratio: 6", "area: 50 cm^2", "foils.port", 6, "either of aspect_ratio and span"),
    "gain without length": Wrong(
        "{proportional: 0.4 deg/cm}",
        "{proportional: 0.4 deg}",
        "control.height.proportional",
        15,
        "an angle per length, such as 0.4 deg/cm",
    ),
    "gain without angle": Wrong(
        "{proportional: 0.4 deg/cm}",
        "{proportional: 0.4 /cm}",
        "control.height.proportional",
        15,
        "an angle per length, such as 0.4 deg/cm",
    ),
    "thick strut": Wrong(
        "thickness: 4.5 mm", "thickness: 45 mm", "struts.thickness", 9, "a strut thinner than its chord, 30 mm"
    ),
    "name of a foil": Wrong("  aft:", "  3rd:", "foils.3rd", 8, "a name of letters, digits, - and _"),
    "one foil": Wrong(
        "  port:      {x: 22 cm, y: -17 cm, area: 50 cm^2, aspect_ratio: 6}\n"
        "  starboard: {x: 22 cm, y: 17 cm, area: 50 cm^2, aspect_ratio: 6}\n",
        "",
        "foils",
        6,
        "at least 2 entries",
    ),
    "half a rangefinder": Wrong("count: 1", "count: 0.5", "rangefinders.count", 10, "a whole number, such as 2"),
    "list for a number": Wrong("height: 20 cm", "height: [20 cm, 22 cm]", "struts.height", 9, "a length, such as 10 cm"),
    "no ride height": Wrong(
        "  ride_height: 9.9 cm\n",
        "",
        "control.ride_height",
        14,
        "such as 10 cm or 10 mm (wanted height of the keel above the water)",
    ),
    "drive better than ideal": Wrong(
        "static_thrust: 30 N", "static_thrust: 30 N, efficiency: 120 %", "propulsor.efficiency", 11, "at most 100 %"
    ),
    "more side force than all": Wrong(
        "thickness: 4.5 mm",
        "thickness: 4.5 mm, ventilation: {side_left: 120 %}",
        "struts.ventilation.side_left",
        9,
        "at most 100 %",
    ),
    "section missing": Wrong(
        "struts: {height: 20 cm, chord: 3 cm, thickness: 4.5 mm}\n", "", "struts", 1, "a mapping of height, chord, thickness"
    ),
}


def problems(folder: Path, campaign: Changes = (), craft: Changes = ()) -> tuple[Problem, ...]:
    with pytest.raises(CampaignError) as caught:
        load_campaign(write(folder, campaign, craft))
    return caught.value.problems


@pytest.mark.parametrize("wrong", CAMPAIGNS.values(), ids=CAMPAIGNS.keys())
def test_a_wrong_campaign(tmp_path: Path, wrong: Wrong) -> None:
    found = problems(tmp_path, campaign=((wrong.old, wrong.new),))
    told = [problem for problem in found if problem.address == wrong.address]
    assert told, found
    assert (told[0].line, told[0].file) == (wrong.line, str(tmp_path / "chop.yaml"))
    assert wrong.mend in str(told[0])


@pytest.mark.parametrize("wrong", CRAFTS.values(), ids=CRAFTS.keys())
def test_a_wrong_craft(tmp_path: Path, wrong: Wrong) -> None:
    found = problems(tmp_path, craft=((wrong.old, wrong.new),))
    told = [problem for problem in found if problem.address == wrong.address]
    assert told, found
    assert (told[0].line, told[0].file) == (wrong.line, str(tmp_path / "tender.yaml"))
    assert wrong.mend in str(told[0])


def test_all_mistakes_of_both_files_at_once_in_their_order(tmp_path: Path) -> None:
    found = problems(
        tmp_path,
        campaign=(
            ("settle: 5 s", "settle: 50 s"),
            ("[14 cm,", "[14,"),
            ("scale: 1 cm", "scale: 1 kg"),
            ("foils.*.area", "foil.*.area"),
        ),
        craft=(("mass: 3 kg", "mass: 3"), ("blind: 2 cm", "blind: 2 m"), ("rudder: aft", "rudder: 7")),
    )
    assert [(Path(problem.file).name, problem.line, problem.address) for problem in found] == [
        ("chop.yaml", 5, "factors.foil.*.area"),
        ("chop.yaml", 6, "factors.struts.height[0]"),
        ("chop.yaml", 20, "flight.settle"),
        ("chop.yaml", 23, "score.ride_height_error.scale"),
        ("tender.yaml", 2, "body.mass"),
        ("tender.yaml", 10, "rangefinders.blind"),
        ("tender.yaml", 12, "steering.rudder"),
    ]


def test_a_list_with_a_wrong_entry_is_not_called_too_short_as_well(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, campaign=(("replicates: 4", "faults: [weed]"),))
    assert problem.address == "conditions.faults[0]"
    assert problem.wanted.startswith("none, or a mapping of weed")


def test_the_shape_of_a_message(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, campaign=(("[14 cm,", "[14,"),))
    wanted = "found 14 without a unit, wanted a length with its unit: 14 cm, 14 mm, 14 m or 14 in"
    assert str(problem) == f"{tmp_path}/chop.yaml:6:19: factors.struts.height[0]: {wanted}"
    with pytest.raises(CampaignError, match=r"chop\.yaml:6:19: "):
        load_campaign(tmp_path / "chop.yaml")


def test_mistakes_of_yaml_in_both_files(tmp_path: Path) -> None:
    found = problems(tmp_path, campaign=(("seed: 7", "seed: &s 7"),), craft=(("count: 1", "count: 1, count: 2"),))
    assert [(Path(problem.file).name, problem.line) for problem in found] == [("chop.yaml", 20), ("tender.yaml", 10)]


def test_levels_that_are_impossible_only_together(tmp_path: Path) -> None:
    both = "rangefinders.blind: [1 cm, 50 cm]\n  rangefinders.far: [20 cm, 1 m]"
    (problem,) = problems(tmp_path, campaign=(("struts.height: [14 cm, 18 cm, 22 cm]", both),))
    assert problem.address == "factors.rangefinders.far"
    assert problem.found == "rangefinders.blind 50 cm with rangefinders.far 20 cm, together an impossible craft"


def test_too_many_designs(tmp_path: Path) -> None:
    many = (("cm^2, levels: 4", "cm^2, levels: 1000"), ("deg/cm, levels: 3", "deg/cm, levels: 1000"))
    (problem,) = problems(tmp_path, campaign=many)
    assert (problem.address, problem.found) == ("plan", "36,000,000 designs")
    assert problem.wanted.startswith("at most 5,000,000")


def test_too_many_conditions(tmp_path: Path) -> None:
    heights = ", ".join(f"{height / 100} cm" for height in range(1, 102))
    periods = ", ".join(f"{1.2 + period / 100} s" for period in range(100))
    (problem,) = problems(tmp_path, campaign=(("[4 cm, 8 cm], period: 1.2 s", f"[{heights}], period: [{periods}]"),))
    assert (problem.address, problem.line) == ("conditions", 13)
    assert "at most 10000 conditions" in problem.wanted


@pytest.mark.parametrize("text", ["", "# nothing\n", "- a\n- list\n", "just words\n", "42\n"])
def test_files_that_hold_no_campaign(tmp_path: Path, text: str) -> None:
    path = tmp_path / "chop.yaml"
    path.write_text(text)
    with pytest.raises(CampaignError, match="wanted a mapping of title, craft, water, factors"):
        load_campaign(path)


def test_a_number_as_a_factor(tmp_path: Path) -> None:
    found = problems(tmp_path, campaign=(("struts.height:", "3:"),))
    assert [(problem.line, problem.found) for problem in found] == [(6, "the key '3'")]


def test_nothing_is_written(tmp_path: Path) -> None:
    path = write(tmp_path, (("[14 cm,", "[14,"),))
    before = sorted(tmp_path.iterdir())
    with pytest.raises(CampaignError):
        load_campaign(path)
    assert sorted(tmp_path.iterdir()) == before


REPLICATES = "replicates: 4"
CALM = (CHOP, "{kind: flat}")
CANNOT_BE = {
    "foils in the ground": (
        (("depth: 4 m", "depth: 10 cm"), CALM),
        (("height: -18 cm", "height: -14 cm"),),
        ("chop.yaml", 3, "water.depth"),
        "found 10 cm of water, while foil port is 10.1 cm deep at the ride height, wanted more than 10.1 cm of water, shorter",
    ),
    "a propeller in the ground": (
        (("depth: 4 m", "depth: 24 cm"),),
        (("height: -18 cm", "height: -33 cm"),),
        ("chop.yaml", 3, "water.depth"),
        "while the propeller is 26.1 cm deep at the ride height",
    ),
    "aground before it starts": (
        (("depth: 4 m", "depth: 20 cm"), CALM, ("length: 40 s", "start: rest, length: 40 s")),
        (("height: -18 cm", "height: -14 cm"),),
        ("chop.yaml", 3, "water.depth"),
        "found 20 cm of water, while afloat it draws 23.1",
    ),
    "a boat that sinks": (
        (),
        (("mass: 3 kg", "mass: 30 kg"),),
        ("tender.yaml", 4, "hulls"),
        "while the boat weighs 30.1",
    ),
    "foils in the air": (
        (),
        (("ride_height: 9.9 cm", "ride_height: 21 cm"),),
        ("tender.yaml", 14, "control.ride_height"),
        "found 21 cm, at which foil port is 1 cm over the water, wanted a ride height under the height of the struts",
    ),
    "blind at its ride height": (
        (),
        (("blind: 2 cm", "blind: 12 cm"),),
        ("tender.yaml", 10, "rangefinders.blind"),
        "found a blind range of 12 cm, while at the ride height, 9.9 cm, a rangefinder is 9.9 cm from the water, wanted",
    ),
    "too far to see": (
        (),
        (("far: 1 m", "height: 25 cm, far: 30 cm"),),
        ("tender.yaml", 10, "rangefinders.far"),
        "found a far limit of 30 cm, while at the ride height, 9.9 cm, a rangefinder is 34.9 cm from the water",
    ),
    "a bow that looks too far": (
        (),
        (("far: 1 m", "far: 12 cm"), ("ride_height: 9.9 cm", "ride_height: 9.9 cm\n  pitch_trim: 5 deg")),
        ("tender.yaml", 10, "rangefinders.far"),
        "found a far limit of 12 cm, while at the ride height, 9.9 cm, a rangefinder is 12.99 cm from the water",
    ),
    "a rangefinder under water": (
        (),
        (("far: 1 m", "height: -12 cm, far: 1 m"),),
        ("tender.yaml", 10, "rangefinders.height"),
        "found -12 cm, where at the ride height, 9.9 cm, a rangefinder is 2.1 cm under water, wanted a higher mounting",
    ),
    "tilted past its echo": (
        (),
        (("far: 1 m", "tilt_limit: 2 deg, far: 1 m"), ("ride_height: 9.9 cm", "ride_height: 9.9 cm\n  pitch_trim: 3 deg")),
        ("tender.yaml", 10, "rangefinders.tilt_limit"),
        "found a tilt limit of 2 deg, while the boat flies pitched 3 deg, wanted a larger tilt limit, or less pitch trim",
    ),
    "a servo of one step": (
        (),
        (("steering: {rudder: aft}", "servos: {travel: 4 deg, quantum: 9 deg}\nsteering: {rudder: aft}"),),
        ("tender.yaml", 12, "servos.quantum"),
        "found steps of 9 deg, while there is a travel of 4 deg either way: no command moves it, wanted steps much smaller",
    ),
    "a slack linkage": (
        (),
        (("rudder: aft", "rudder: aft, servo: {travel: 4 deg, backlash: 8 deg}"),),
        ("tender.yaml", 12, "steering.servo.backlash"),
        "found a slack of 8 deg, while there is a travel of 4 deg either way: it never moves",
    ),
    "weed after the flight": (
        ((REPLICATES, f"{REPLICATES}\n  faults: [{{weed: {{where: foils.*, drag: 3 cm^2, from: 40 s}}}}]"),),
        (),
        ("chop.yaml", 20, "conditions.faults[0].weed.from"),
        "found '40 s', wanted a time within the flight, which ends at 40 s",
    ),
    "a turn after the flight": (
        ((REPLICATES, f"{REPLICATES}\n  faults: [none, {{turn: {{by: 60 deg, from: 1 min}}}}]"),),
        (),
        ("chop.yaml", 20, "conditions.faults[1].turn.from"),
        "found '1 min', wanted a time within the flight, which ends at 40 s",
    ),
    "nothing left to judge": (
        (("settle: 5 s", "settle: 39.5 s"),),
        (),
        ("chop.yaml", 20, "flight.settle"),
        "found 39.5 s, which leaves 0.5 s to judge, wanted at least 1 s after it",
    ),
}


@pytest.mark.parametrize("case", CANNOT_BE.values(), ids=CANNOT_BE.keys())
def test_what_cannot_be_is_refused_where_it_stands(
    case: tuple[Changes, Changes, tuple[str, int, str], str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By check and by run alike, before anything is flown: one sentence with its numbers and its mend."""
    campaign, craft, (name, line, address), told = case
    path = write(tmp_path, campaign, craft)
    for verb in ("check", "run"):
        assert cli.main([verb, str(path), *(["--out", str(tmp_path / "results")] if verb == "run" else [])]) == 2
        said = capsys.readouterr().err.splitlines()
        found = [each for each in said if each.startswith(f"{tmp_path / name}:{line}:") and f" {address}: " in each]
        assert len(found) == 1, said
        assert told in found[0]
    assert not (tmp_path / "results").exists()


def test_what_just_can_be_is_not_refused(tmp_path: Path) -> None:
    """A millimetre of water under the propeller, a blind range just under the ride, weed in the last second."""
    weed = f"{REPLICATES}\n  faults: [{{weed: {{where: foils.*, drag: 3 cm^2, from: 39 s}}}}]"
    write(
        tmp_path,
        (("depth: 4 m", "depth: 11.2 cm"), (REPLICATES, weed), (CHOP, "{kind: flat}")),
        (("blind: 2 cm", "blind: 9.8 cm"),),
    )
    text = (tmp_path / "chop.yaml").read_text()
    (tmp_path / "chop.yaml").write_text(text.replace("    swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}\n", ""))
    assert load_campaign(tmp_path / "chop.yaml").water.depth == pytest.approx(0.112)


def test_what_is_over_before_it_is_judged_is_cautioned(tmp_path: Path) -> None:
    weed = f"{REPLICATES}\n  faults: [{{weed: {{where: foils.*, drag: 3 cm^2, from: 1 s, to: 4 s}}}}]"
    (caution,) = load_campaign(write(tmp_path, ((REPLICATES, weed),))).warnings
    assert caution == "weed on foils: over at 4 s, before anything is scored (from 5 s on): only what it leaves is judged"


def test_a_pontoon_boat_floats_by_all_its_hulls(tmp_path: Path) -> None:
    """Archimedes: two boxes with a flat vee, by hand: 2 x 0.9 x 0.08 x 0.1 m less the vee's corners, a kilogram a litre."""
    hull = "{length: 90 cm, beam: 8 cm, deadrise: 4 deg, depth: 10 cm, y: -20 cm}"
    text = f"port: {hull}\n  starboard: {hull.replace('-20', '20')}"
    campaign = load_campaign(
        write(tmp_path, (), (("main: {length: 90 cm, beam: 16 cm, deadrise: 14 deg, depth: 12 cm}", text),))
    )
    water = campaign.water.for_model()
    chine = 0.04 * math.tan(math.radians(4.0))
    carried = 2.0 * 0.9 * 0.08 * (keel_afloat(campaign.craft, water.density) - 0.5 * chine) * water.density
    assert carried == pytest.approx(mass_properties(campaign.craft).mass, rel=1e-6)


CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.mark.parametrize(
    ("verb", "name", "told"),
    [
        ("run", "craft/courier.yaml", "found a craft file, which a campaign names, wanted a campaign file"),
        (
            "check",
            "measurements/puffin.yaml",
            "found a file of measurements, which `foilsweep new --answers` takes, wanted a campaign",
        ),
        ("check", "log/afternoon.yaml", "found a mapping file of logs, which `foilsweep log` takes, wanted a campaign file"),
        ("log read", "quick.yaml", "found a campaign file, which `foilsweep run` takes, wanted a mapping file of logs"),
        ("new --answers", "craft/courier.yaml", "found a craft file, which a campaign names, wanted a file of measurements"),
    ],
)
def test_a_file_of_another_sort_is_told_in_one_line(
    verb: str, name: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main([*verb.split(), str(CONFIGS / name)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"{CONFIGS / name}: {told}")


def test_a_campaign_as_craft_of_a_campaign(tmp_path: Path) -> None:
    path = write(tmp_path, [("craft: tender.yaml", "craft: chop.yaml")])
    with pytest.raises(CampaignError, match="where there is a campaign file, which `foilsweep run` takes, wanted the craft"):
        load_campaign(path)


def test_a_plan_without_a_kind_is_found_to_have_none(tmp_path: Path) -> None:
    (found,) = problems(tmp_path, campaign=(("full-factorial", "{designs: 9}"),))
    assert found.found == "no kind"


def test_a_light_air_over_the_waves_is_no_mistake(tmp_path: Path) -> None:
    """Mean wind from a calm on; half a metre a second is Beaufort's light air."""
    path = write(tmp_path, (("period: 1.2 s}", "period: 1.2 s, wind: 0.5 m/s}"),))
    assert {sea.wind for sea in load_campaign(path).seas if sea.name.startswith("chop")} == {0.5}


@pytest.mark.parametrize(
    ("sea", "key"),
    [
        ("{{kind: jonswap, height: {}, period: 1.2 s}}", "height"),
        ("{{kind: jonswap, height: 4 cm, period: {}}}", "period"),
        ("{{kind: wind, speed: {}, fetch: 1 km}}", "speed"),
        ("{{kind: wind, speed: 3 m/s, fetch: {}}}", "fetch"),
    ],
)
def test_a_thousand_values_of_a_sea_are_the_most(tmp_path: Path, sea: str, key: str) -> None:
    unit, first = {"height": ("cm", 4), "period": ("s", 1), "speed": ("m/s", 2), "fetch": ("km", 1)}[key]
    values = ", ".join(f"{first + at / 1000:g} {unit}" for at in range(1001))
    (found,) = problems(tmp_path, campaign=((CHOP, sea.format(f"[{values}]")),))
    assert (found.address, "at most 1000" in str(found)) == (f"conditions.seas.chop.{key}", True)


def test_a_slow_rangefinder_is_no_mistake(tmp_path: Path) -> None:
    """A reading every two seconds flies badly, which is for the flights to tell."""
    path = write(tmp_path, craft=(("blind: 2 cm", "rate: 0.5 Hz, blind: 2 cm"),))
    assert load_campaign(path).craft.rangefinders.rate == 0.5


def test_a_rangefinder_s_wrong_reading_is_off_by_the_spike_at_most() -> None:
    """MODEL.md: spike_size (2 u - 1), u from 0 to 1, is added: the size bounds it, either way."""
    assert Rangefinders.model_fields["spike_size"].description == "largest error of a wrong reading, either way"


def test_what_is_not_said_of_a_hull_s_place_is_at_the_datum(tmp_path: Path) -> None:
    hull = load_campaign(write(tmp_path)).craft.hulls["main"]
    assert (hull.x, hull.y) == (0.0, 0.0)
