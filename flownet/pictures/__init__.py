"""Charts of results: ordinary matplotlib axes in data units, one file a chart.

Each is one function, `name(result, *, ax=None, units="metric") -> Axes`. Without `ax` it makes a
page with title, caption, chart, table and notes; on `ax` it draws the chart alone.
"""
