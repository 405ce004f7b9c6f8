"""Rules about data that can be read and are odd all the same: one module a kind.

Each rule takes a component and yields notes. The ranges are common practice, no source, where no
other is named: what falls outside may be right, and is worth a second look at the sheet.
"""
