"""The life of a study: handed in, changed, decided by a reviewer, sealed; and what each revision said.

`document` writes a study down whole and reads it back, `differences` sets two documents side by side, `hand_in` takes
a study or a change to one, `replace` puts a change into the records, `decide` is what a reviewer may do, `chain` seals
what was accepted and finds what was changed behind its back. `ask` holds questions and doubts, `notify` tells people
what happened, `digest` sends it by e-mail.
"""
