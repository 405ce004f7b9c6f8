"""The one form of an answer: blocks of SI values and notes, and one renderer a medium.

A result says what it knows as blocks (`block.Block`) and notes; it has no text of its own. What a
console (`console`), plain data (`plain`), a table (`frame`) and a notebook (`html`) make of them is
decided here, once for all results. A change of units decides nothing anew: blocks hold SI values.
"""
