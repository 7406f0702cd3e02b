"""How does an old sowing book, kept in a spreadsheet, become records?

`reading` takes the file apart, `matching` says which column is what, `ferns` finds its ferns, and
`building` writes files of the records format, which go through the same import as all others.
"""

from __future__ import annotations
