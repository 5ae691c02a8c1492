"""Paper for the bench: the sheet to work from, labels for the box, a card for the customer.

`sheet` makes the bench sheet of one harp and the work list of several, `label` the labels and
`card` the card. What they say is worked out in `content` (sheets) and `cardcontent` (cards), in
the words of `words`; `pictures` draws plates and signs; `papers` are the papers that may be asked
for. docs/bench-sheets.md tells more.
"""
