"""Rigging: slings, shackles, hitches, beams, two machines on one load, and the weakest item.

Forces in each item by statics (``slings``, ``attitude``, ``under_beam``, ``tandem``), its rating in
this use (``hitches``, ``tables``), and the item that governs (``assembly``). The uniform load
method of the sling standards (in ``tables``) is for symmetrical bridles only.
"""
