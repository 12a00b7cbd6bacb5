"""What the food codes say about holding paste warm, applied to temperatures over time. Pure numbers.

Nothing here gives a verdict on the food: it states which interval broke which rule of which code. Later
rules (growth, lethality, cooling) get modules of their own beside `windows`.
"""
