"""Where to stand: room for the legs, and the best stand points, headings and legs for a job.

``ground`` allowed ground, what blocks, the machine's plan, and what each leg may do at one stand; ``fit`` the same for
a whole grid of stand points at once; ``capacity`` capacity as the search reads it; ``measure`` utilisation of places;
``search`` the best places for every lift from one set-up; ``setups`` several set-ups, the margin over the site, Pareto
table; ``alternatives`` changes that let a lift pass that fails where it stands.
"""
