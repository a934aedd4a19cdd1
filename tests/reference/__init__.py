"""The trade worked out a second time, from its definitions and with other people's libraries.

Areas and edges are measured on drawn figures (shapely), units are turned by pint, orders
are searched for.  Nothing here reads a formula of the workbook; all lengths are meters.
"""
