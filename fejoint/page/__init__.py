"""The local page: a drawing of the joint that is the input, and the answer beside it.

`server` speaks HTTP, `solver_pool` keeps worker processes and drops what is no longer wanted,
`worker` solves, `scene` packs what is drawn, and `static/` is the page itself.
"""
