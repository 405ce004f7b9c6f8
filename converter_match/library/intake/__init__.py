"""Intake: the dealer's sheet as it comes, read, questioned, and made into a component on consent.

A sheet passes through these modules in order:

========================  =====================================================================
`text_table`, `workbook`  a file becomes a `grid.Grid` of cells, bounded and refused clearly
`numerals`                cells become numbers: decimal commas, thousands, percent
`vocabulary`, `mapping`   headings become roles: the synonyms of the trade, other languages
`headings`, `layout`      where the heads are, the rows, the remarks; what unit a column has
`guess`                   units that are not stated: proposed with reasons, never taken silently
`ordering`                mixed order, repeated points
`converter_sheet`, ...    what the columns mean together, and what is odd about them
`draft`                   what was understood; only `Draft.accept` builds a component
========================  =====================================================================

`rating_line` reads an engine's spec line, `picture` a curve from an image. `export` is the way out.
Nothing here guesses in silence: a guess is a question, and a question that is open keeps the
component from being built.
"""
