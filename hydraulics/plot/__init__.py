"""What ground is there, and where does everything lie on it?

From outside, three things are read: `set_out.set_out(plot, lay, rules, chambers, prices)` gives a
`site_plan.SitePlan`; `circuit.circuit_of(plan, loops, run_pipe)` reads it into an array with its
tails and runs; and `plot.Plot` is the short form of a plot, a rectangle or only its area.

=============== ==========================================================================
`site`          boundary, keep-outs, water, plant room: `SitePlot`, and what it refuses
`asked`         what is laid (`Lay`), `HeaderRules`, `ChamberRule`, `Prices`
`site_plan`     the plan: trenches, bores, mats, chambers, routes, stretches, capacity
`stance`        a plot's own axes, on which it is worked out however it lies
`usable`        ground on which trenches and header trenches may lie
`parallel`      equal straight trenches: directions, lines, spines, staggered rows
`bores`         boreholes on a grid close together, or spread over the plot
`network`       ways that header trenches may take
`lanes`         ways through water, between mats and ashore
`routes`        shared ways of tails and runs
`chambers`      where chambers stand and which loops they hold
`stretches`     the union of the routes, and the pipes in each piece
`findings`      what a plan shows
`by_hand`       what is wrong with a drawing: `drawn_faults`, `crossed`
`levels`        ground through surveyed points, and what height adds to pressure
`profile`       levels of loops and tails, slopes, where air stays
`spare`         where pipe that is coiled up to make loops equal finds room
`tangent_plane` metres of the plot to longitude and latitude on WGS84, and back
=============== ==========================================================================
"""
