"""Many stiff initial value problems at once in few long steps: collocation at Radau's points.

`march` goes from step to step, `step` finds one by Newton's method, whose algebra is in `newton`; `events`
finds where signals fall to zero; `radau` has the points.
"""
