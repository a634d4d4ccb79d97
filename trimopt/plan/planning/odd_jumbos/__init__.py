"""Jumbos unlike the nominal one, of another width or with defects: the sets that lie on them."""
