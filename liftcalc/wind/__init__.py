"""Wind on the boom and on the hanging load, and the wind a lift may be made in.

Wind directions are where the wind blows *towards*, from the boom's outward direction in plan,
anticlockwise positive seen from above. Pressures are in kPa. An area is a real projected area;
area times force coefficient is called the wind area.
"""
