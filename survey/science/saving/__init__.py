"""Dead, asleep or saveable: a decision aid over what was seen of one tree. It condemns nothing
on one look, and never on looks of the months in which the tree is supposed to be bare."""
