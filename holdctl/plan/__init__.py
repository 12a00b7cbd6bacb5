"""Before a gram is weighed: the formula, the mix, the night on this warmer, the cooling and the dough, as one plan.

The arithmetic is in `holdctl.paste`, the forecast in `holdctl.control`; here they are put together, kept, and
compared with the night that came of them.
"""
