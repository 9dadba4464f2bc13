"""What a reader asks of a piece or of a next test, read from an address and answered from the book.

`asked` has the forms' parts that a page and the API share; each other module reads one question and answers it with
`stats.practice` and what `results.evidence` finds in the book.
"""
