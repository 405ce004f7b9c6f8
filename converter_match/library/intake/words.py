"""The sentences of intake: what is noticed, asked and refused of a sheet.

Numbers here are in the units of the sheet, which a draft keeps: the sentences of problems take
texts and plain numbers, and no unit is changed in them. Names are codes, or tell the parts of a
sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "read-as": ("assumption", "{source}: read as {article} {kind} sheet"),
        "column-read": ("assumption", "{column}: {role} in {unit}{why}{at}"),
        "more-rows": ("assumption", "... and {count:.0f} more rows"),
        "nothing-open": ("assumption", "nothing is open"),
    }
)
# Where a unit comes from, as a person calls it.
UNIT_FROM = {
    "heading": " (from the heading)",
    "cells": " (from the cells)",
    "you": " (as you said)",
    "inferred": " (PROPOSED)",
}
_SENTENCES: Mapping[str, str] = {
    "as-said": "{what}",
    "answers-saved": "Answers were taken from {file}, beside the sheet.",
    "answers-not-used": (
        "The answers in {file} were given for another version of this file, and were not used."
    ),
    "size-in-doubt": "{what} Right all the same?",
    "agreed-to": "{what}. Agreed to when the sheet was brought in.",
    "nothing-to-confirm": "The question {question!r} is not open here.",
    # --- the file ---
    "delimiter": "Columns are divided by {by}.",
    "encoding": "The file is {name}.",
    "encoding-guessed": (
        "The file is not UTF-8 (line {line}); it was read as Windows-1252 (--encoding to say "
        "another)."
    ),
    "encoding-by-zeros": (
        "The file does not say its encoding; it was read as {name} (--encoding to say another)."
    ),
    "decimal-of-column": "has a {what}, unlike the rest of the sheet",
    "formula-without-value": ("a formula without a stored value: formulas are not evaluated here"),
    "formulas": (
        "{count} cells hold formulas ({cells}): the values stored with them were taken; nothing "
        "was calculated."
    ),
    "hidden-sheet": "The sheet is hidden in the workbook.",
    "html-table": "The tables were taken out of HTML.",
    "turned": "The quantities stand in rows; the sheet was turned.",
    "second-table": "another table begins here; what follows was not read: take the first?",
    "table-chosen": "Another table begins here; table {table} was taken, as you said.",
    "heading-repeated": (
        "the same headings stand here again, as on a new page; the rows below were joined to "
        "those above: right?"
    ),
    "line-among-rows": (
        "among the rows of numbers stands {text!r}: do the rows below it belong to the same curve "
        "as those above?"
    ),
    "hidden-rows": "the workbook hides {word} {rows}: use the numbers there all the same?",
    "hidden-columns": "is hidden in the workbook: use it all the same?",
    "struck-through": "a number here is struck through ({row}): use the row all the same?",
    "decimal-mark": (
        "{why} (1.234 could be one and a bit or a thousand and some); read with a decimal point"
    ),
    "decimal-comma": "Numbers have a {what}.",
    "decimal-mixed": "{cell!r} has another decimal mark than the rest; read as {value:.12g}",
    "footnote-mark": "{cell!r} was read as {value:.12g}; the mark {mark!r} was set aside",
    # --- columns ---
    "column-ignored": "not used, as you said",
    "column-empty": "holds no numbers, so it is not used",
    "column-not-recognised": "not recognised, so not used{hint}",
    "column-without-heading": "has no heading, so it is not used{hint}",
    "column-to-use": "; --column {number}=ROLE to use it",
    "another-rating": "another rating",
    "column-repeats": "says the same as {other} in another unit; compared, and kept beside it",
    "column-compared-only": "has gaps, so it was compared and not written",
    "column-with-gaps": "has gaps or no unit",
    "column-twice": "{role} appears twice: {columns}; the first is used",
    "heading-misspelt": "is this {word!r} ({role})?",
    "heading-whose": "{name!r} alone does not say whose it is, the impeller's or the turbine's",
    "heading-words-left": (
        "the heading says {words!r} as well, which is not understood: is it {role} all the same?"
    ),
    "heading-says-another": (
        "the heading says {words!r}, which makes it another quantity than {role}: use it as "
        "{role} all the same?"
    ),
    "condition-noted": "The heading says {condition}; nothing is calculated from that.",
    "condition-not-used": (
        "the heading says {condition}, and a column of {role} over speed does not hold at one of "
        "them: use it all the same?"
    ),
    "heading-factor": (
        "the heading says {text!r}: multiply what stands here by it, so that {first:.6g} becomes "
        "{becomes}?"
    ),
    "number-with-unit": "{value:.6g} {unit}",
    "factor-told": "Multiplied by {factor:.12g}, as you said.",
    "per-thousand-squared": (
        "Told for 1000 rpm: a millionth of the numbers is the coefficient per rpm squared."
    ),
    "reference-unclear": (
        "{text!r} in the heading can be read in two ways beside the other numbers of the sheet; "
        "as {meant}?"
    ),
    "fact-unclear": (
        "{fact} {value!r} can be read in two ways beside the other numbers of the sheet, and "
        "{read} would be unusually small"
    ),
    "reference-twice": "the heading says {here}, the sheet says {elsewhere} beside the table",
    "basis-from-heading": "{fact} = {value}, from the headings.",
    "several-ratings": (
        "{missing}several ratings stand side by side: {ratings}; the first is shown"
    ),
    "no-such-rating": "there is no rating {rating!r}; ",
    "rating-chosen": "Of several ratings {rating!r} was taken.",
    # --- units ---
    "unit-refused": "the unit cannot be taken: {why}",
    "units-mixed": "numbers with different units in one column: {units}",
    "units-differ": "the heading says {head!r}, the cells say {cells!r}",
    "units-of-two-systems": (
        "the heading says {unit}, while the rest of the sheet is in US units ({others}): is the "
        "heading right?"
    ),
    "unit-missing": "no unit stands with it, and nothing tells which it is ({units}, ...)",
    "unit-inferred": "no unit stands with it; {unit} because {why}?",
    "beyond-a-share": "it goes up to {top:.4g}, and a share of 1 is the most that is usual",
    "beyond-a-torque-ratio": "a torque ratio of {top:.4g} would be no converter's",
    "beyond-lambda": "lambda is a few thousandths, and {top:.4g} is a thousand times as much",
    "largest-is-usual": "its largest number, {top:.6g}, is usual in it",
    "agrees-with": "it agrees with {what}",
    "power-of": "{place} and the speed (power = torque x speed)",
    "makes-lambda": (
        "with the diameter it makes a performance coefficient of {value:.2g} {where} (usual at "
        "stall {low:g} to {high:g}{oil})"
    ),
    "in-first-row": "in the first row",
    "at-stall": "at stall",
    "at-speed-ratio": "at speed ratio {at:.4g}",
    "oil-taken": ", oil taken as {density:g} kg/m3",
    "in-company": "the other units given are {system} ({units})",
    "capacity-form": "which form of capacity this is cannot be told without a unit",
    "factor-of-units": "; the factor {factor:.4g} is that between {units}: a unit is wrong",
    "factor-throughout": "; the factor is about {factor:.3g} throughout",
    # --- rows and cells ---
    "row-rejected": "not used: {why}",
    "row-left-out": "left out, as you said",
    "row-without-number": "holds no number in a column that is used",
    "cell-is": "{column}: {cell!r} is {what}",
    "cell-is-no-number": "{column}: {cell!r} is not a number",
    "cells-are-ranges": (
        "holds ranges, of which the middle is used and the rest is not ({rows}): right?"
    ),
    "cells-are-a-band": (
        "holds ranges ({rows}): use the middle, and half the width as its reading error?"
    ),
    "cell-is-empty": "{column} is empty",
    "cells-are-empty": "{column} are empty",
    "cell-is-too-large": "{column}: {value:.6g} is of a size that no machine has",
    "stall-is-zero": "'stall' was read as speed ratio 0",
    "too-few-rows": "{rows} can be used; two at least",
    "rows-reversed": "The rows run downwards; they were turned round.",
    "rows-sorted": "The rows are in mixed order; they were sorted by {column}.",
    "point-repeated": "the same point ({at}) appears twice; taken once",
    "point-repeated-differs": (
        "{at} is repeated with {values} ({apart:.1f} % apart): take the mean?"
    ),
    "point-contradicts": (
        "{at} is repeated with {values}: {apart:.1f} % apart, one of them must be wrong"
    ),
    "row-off-the-line": (
        "the {what} is {off:+.1f} % off the line of the other rows: a misread row? Keep it as it "
        "is?"
    ),
    "row-off-the-grid": (
        "the {what} is {value}, where the even steps of the other rows would have {middle}: a "
        "misread row? Keep it as it is?"
    ),
    "row-out-of-order": (
        "alone is out of order ({column} {value}); it was sorted to its place: a misread row? Is "
        "it right?"
    ),
    "stall-k-unusual": (
        "K at stall is {k:.3g} rpm/sqrt(N.m); usual is {low:g} to {high:g}: is the unit right?"
    ),
    "and-more-rows": " and {count} more rows",
    # --- facts beside the table ---
    "fact-overruled": "The {what} says {fact} {theirs}; you say {yours}.",
    "fact-twice": "{fact} stands here as {here} and elsewhere as {elsewhere}",
    "fact-given-twice": "{fact} is given twice: {first} and {second}",
    "fact-from-sheet": "{fact} = {value}, from {line!r}.",
    "fact-from-line": "{fact} = {value}",
    "fact-is-none-of": "{fact} {value!r} is none of {choices}",
    "fact-is-no-number": "{fact} {value!r} is not a number with a unit",
    "fact-refused": "{fact} {value!r}: {why}",
    "from-file-name": "{fact} = {value!r}, since none is given (--{fact} to say another).",
    "not-on-sheet": "{what} is not on the sheet",
    "lambda-needs": "{fact}, which a performance coefficient needs,",
    # --- a converter ---
    "no-speed-ratio": (
        "no column holds the speed ratio (nor the slip, nor turbine and impeller speed)"
    ),
    "no-torque-ratio": "no column holds the torque ratio (nor turbine and impeller torque)",
    "no-capacity": (
        "no column holds the capacity (K-factor, torque or power absorbed at a speed, speed at a "
        "constant torque, capacity or performance coefficient)"
    ),
    "speed-ratio-from-slip": "The speed ratio was taken as 1 - slip ({column}).",
    "speed-ratio-from-speeds": (
        "The speed ratio was calculated as turbine speed / impeller speed."
    ),
    "speed-ratio-at-constant-speed": (
        "The speed ratio was calculated as turbine speed / the constant input speed of {speed}."
    ),
    "constant-speed-missing": (
        "the constant input speed at which this was read is not on the sheet"
    ),
    "speed-at-constant-torque": (
        "the input speed is taken as that at a constant input torque, since no column holds the "
        "capacity"
    ),
    "reference-torque-missing": (
        "the constant input torque at which this speed was read is not on the sheet"
    ),
    "torque-ratio-from-torques": (
        "The torque ratio was calculated as turbine torque / impeller torque."
    ),
    "torque-ratio-from-efficiency": (
        "The torque ratio was calculated as efficiency / speed ratio ({column})."
    ),
    "stall-ratio-unknown": (
        "an efficiency says nothing about the torque ratio at stall, where nothing comes out; "
        "{limit:.4g}, the limit of efficiency / speed ratio (the slope of the efficiency at 0, by "
        "the three rows next to stall)?"
    ),
    "stall-ratio-open": (
        "an efficiency says nothing about the torque ratio at stall, where nothing comes out, and "
        "too few rows lead to it"
    ),
    "stator-missing": "the kind of stator is not on the sheet",
    "stator-inferred": "the kind of stator is not on the sheet; {guess}, because {why}?",
    "ratio-is-one": "the torque ratio is 1 throughout",
    "ratio-falls-to": "the torque ratio falls to {ratio:.4g}",
    "ratio-stays-at-one": "the torque ratio falls to 1 and stays there",
    "ratio-ends-before-one": "most have one (the rows end before the torque ratio is 1)",
    "ratio-ends-at-one": "most have one (the rows end where the torque ratio is 1)",
    "reference-speed-missing": ("the impeller speed at which this is absorbed is not on the sheet"),
    "capacity-zero-at-one": (
        "K is infinite at speed ratio 1; the capacity is written as a coefficient, 0 there"
    ),
    "smoothed-converter": (
        "Smoothed on each side of the coupling point: the torque ratio was moved by at most "
        "{ratio:.3g}, the capacity by at most {capacity:.2g} % of its largest value. The points as "
        "they came are kept in the file under [[unsmoothed]]."
    ),
    "efficiency-contradicts": "the efficiency contradicts speed ratio x torque ratio: {rows}",
    "efficiency-off": (
        "the efficiency is off speed ratio x torque ratio by more than printed digits explain: "
        "{rows}: use the torque ratio?"
    ),
    "efficiency-agrees": "The efficiency agrees with speed ratio x torque ratio.",
    "efficiency-above-one": (
        "speed ratio x torque ratio is above 1, which is energy from nowhere: {rows}"
    ),
    "capacities-agree": "It agrees with {other}.",
    "capacity-contradicts": "differs from {other} in the torque it means: {rows}{hint}",
    "capacity-differs": ("differs from {other} in the torque it means: {rows}{hint}: use {other}?"),
    "not-zero": "not zero",
    "no-stall-row": (
        "there is no row at stall (speed ratio 0); the nearest is at {nearest:.4g}: leave the "
        "stall speed unknown?"
    ),
    "stall-ratio-unusual": (
        "the torque ratio at stall is {ratio:.4g}; usual is {low:g} to {high:g}: right?"
    ),
    "torque-ratio-rises": "the torque ratio rises from {before:.4g} to {after:.4g}: right?",
    "coupling-unusual": (
        "the torque ratio falls to 1 at speed ratio {at:.4g}; a coupling point usually lies "
        "between {low:g} and {high:g}: right?"
    ),
    "lambda-usual": (
        "The performance coefficient at stall is {value:.2g}, within the usual {low:g} to "
        "{high:g}{oil}."
    ),
    "unit-probably-wrong": (
        "the performance coefficient at stall is {value:.2g}, usual is {low:g} to {high:g}{oil}: a "
        "unit, the diameter or a reference speed is probably wrong ({hint}). Right all the same?"
    ),
    "oil-taken-for-check": " (oil taken as {density:g} kg/m3 for this check)",
    "other-unit-makes": "{meant} where {read} was read would make it {value:.2g}",
    "diameter-fits": "a diameter of about {diameter:.0f} mm would fit",
    # --- a converter known by its stall ---
    "stall-speed": "the stall speed",
    "stall-torque": "the torque that goes into the converter at stall (the engine's net torque)",
    "stall-stator-assumed": (
        "The stator is taken as one on a one-way clutch: no other shape is published."
    ),
    "range-not-taken": "{words!r} is a range, and {fact} has to be one number",
    "range-one-ended": "{fact} is one end of a range; the other is missing",
    # --- an engine ---
    "no-speed": "no column holds the speed",
    "no-torque": "no column holds torque or power",
    "speed-not-above-zero": (
        "speeds must be above zero ({rows}); is it the sheet of an electric motor: --kind motor"
    ),
    "speed-unusual": "the fastest row is at {fastest:.5g} rpm: is the unit of the speed right?",
    "power-agrees": "Power agrees with torque x speed.",
    "power-contradicts": "power differs from torque x speed: {rows}{hint}",
    "power-off": "power differs from torque x speed: {rows}{hint}: use the torque?",
    "torque-band": "The reading error is kept as a band of +-{band:.2g} % of the torque.",
    "rows-band": (
        "The reading error is kept as a band of up to ±{torque_ratio_band:.2g} % of the torque "
        "ratio and ±{capacity_band:.2g} % of the capacity, row by row."
    ),
    "scan-unconfirmed": (
        "the table was read off a picture by a machine: compare each of its {count} cells with its "
        "snippet ({doubtful} are asked about by themselves as well); is the rest right?"
    ),
    "scan-not-understood": (
        "the cells make no table that is understood, perhaps for a word that was read wrong: {why}"
    ),
    "scan-doubt": "read as {text!r}: {why}: right?",
    "scan-corrected": "{text!r} as you said, where {read!r} was read.",
    "scan-missed": "not found in the picture, only when this place was read by itself",
    "scan-no-number": "no number, where the rest of the column has numbers",
    "scan-letters": "{read!r} was read, with letters or marks where digits are due",
    "scan-differs": "read by itself it is {again!r}",
    "scan-unsure": "read with {sure:.0f} % confidence only",
    "scan-decimals": "{own} decimals, where the column has {usual}",
    "cell-blank": "nothing",
    "html-hides": (
        "a style sheet on the page hides something, and style sheets are not read: does the table "
        "here hold only what the page shows?"
    ),
    "speed-too-fast": "{fact} {value} is faster than an engine of this trade turns{run_on}: right?",
    "one-run-on": ", and the 1 may belong to 1/min: {less}",
    "rating-basis": "whether the rating is gross (bare) or net (fan, pump and so on driven)",
    "governing": "whether the governor holds speed (machines) or torque (road vehicles)",
    "low-idle": "low idle",
    "rated-speed": "the rated speed",
    "high-idle": "high idle (the speed without load at full throttle)",
    "rated-power": "rated power",
    "peak-torque": "peak torque",
    "peak-torque-speed": "the speed of peak torque",
    "high-idle-inferred": (
        "high idle is not on the sheet by name; {speed}, where the last row has no {load} left "
        "({row})?"
    ),
    "rated-speed-inferred": (
        "the rated speed is not on the sheet; {speed}, where power is greatest ({row})?"
    ),
    "rated-speed-tied": (
        "the rated speed is not on the sheet, and power is printed as greatest at {speeds} alike"
    ),
    "smoothed-engine": (
        "Smoothed on each side of rated speed: the {what} was moved by at most {off:.3g} {unit}. "
        "The points as they came are kept in the file under [[unsmoothed]]."
    ),
    "words-not-used": "not used: {words!r}",
    "minus-sign": "{words!r} has a minus sign before its number: leave it out?",
    "twin-value-differs": "{one} and {other} differ by {apart:.1f} %: use the first?",
    # --- a motor ---
    "no-peak": "no column holds the peak torque",
    "no-continuous": (
        "no column holds the continuous torque (duty type S1): without it nothing is known of what "
        "the motor holds for good"
    ),
    "standstill-missing": (
        "the rows begin at {first}, and a motor has its torque at rest; take that of the first row "
        "at 0 as well? A winding at standstill is heated unevenly, and often holds less: better "
        "ask the maker"
    ),
    "regenerative-sign": (
        "the regenerative torque is written above zero, and one that brakes is below: turn the "
        "sign?"
    ),
    "regenerative-mixed": "the regenerative torque is above zero in some rows: {rows}",
    "continuous-above-peak": (
        "the continuous torque is above the peak torque: {rows}; are the columns exchanged?"
    ),
    "speed-limit": "the speed limit",
    "speed-limit-inferred": (
        "the speed limit is not on the sheet by name; {speed}, its last row ({row})?"
    ),
    "peak-time": "how long the peak torque is held",
    "peak-time-inferred": "how long the peak torque is held: {time}, from {heading!r}?",
    "peak-from-assumed": "The peak torque is taken to be held from cold (duty type S2).",
    "overload-unusual": (
        "the peak torque is {times:.1f} times the continuous one in its constant stretch; usual is "
        "1.2 to 4 (common practice, no source): right?"
    ),
    "motor-power-unusual": (
        "the greatest power is {power:.3g} kW; is the unit of the torque right?"
    ),
    # --- a picture ---
    "trace-gap": "nothing of its colour between pixel columns {first} and {last}",
    "trace-ended": "the trace ended at pixel column {pixel:.0f}, before its end",
    "trace-crossing": (
        "another line of the same colour crosses between pixel columns {first} and {last}; the "
        "direction was held, and nothing taken there: is it the same curve beyond?"
    ),
    "trace-astray": (
        "the path comes out {rows:.0f} rows of the picture from the end that was picked, and so "
        "it does from the other end: another curve was probably followed. Is it right?"
    ),
    "trace-moved": (
        "The start lay on the line of an axis; it was followed from {columns:.0f} pixel columns on."
    ),
    "straightened": "The picture was made straight by the four corners of its frame.",
    "seen-from-the-side": (
        "axes that should run alike are {angle:.1f} degrees apart: the picture seems to be taken "
        "from the side, and every value is off by what that does. Use it as it is?"
    ),
    "capacity-rises-beyond": (
        "K falls from {before:.4g} to {after:.4g} rpm/sqrt(N.m) beyond the coupling point (speed "
        "ratio {at:.4g}), where it rises on every converter: another curve was probably followed, "
        "or the rows are mixed up"
    ),
    "beyond-the-curves": (
        "not read at {at}: the curves reach from {low:.4g} to {high:.4g} only (at = [...] in the "
        "description says where to read)"
    ),
    "positions": "The curves were read {how}.",
    "reading-error": (
        "{what} was read from a picture ({how}); reading error about ±{middle:.2g}{unit} in the "
        "middle, ±{worst:.2g}{unit} at worst (the value in the middle is {value:.4g}{unit})."
    ),
}


def said(name: str, /, **values: Any) -> str:
    """Return a sentence, or a part of one, with its values.

    Parameters
    ----------
    name : str
    **values
        Texts and plain numbers, for its places.

    Examples
    --------
    >>> said("ratio-falls-to", ratio=0.9)
    'the torque ratio falls to 0.9'
    """
    return _SENTENCES[name].format(**values)
