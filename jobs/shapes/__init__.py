"""What a piece looks like: its outline, what is cut out of it and built down from it, and what
follows from that: areas, weights, sizes, what is impossible, drawings as data, DXF files.

Pure: curing, numpy, shapely, ezdxf; no Django, no database, no clock. Metres, kg and kg/m³. A
piece lies as its plan is drawn: x from the left end, y from the front edge to the back, depth from
the show face down.
"""
