"""Floor 2: survey files become `Shots`: plan, elevation, code, and where each was written.

How data flows: `read.py` takes all files of a survey, and `read_file.py` each by itself
(`files.py`: open, checksum, what kind it really is), by `delimited.py` or `cloud.py`. Text:
`text.py` finds the encoding, `layout.py` the delimiter and header, `columns.py` says what the
columns are, `quick.py` reads clean files and `rows.py` all others, gathering their faults.
Clouds: `header.py` and `laz.py` check the file, `crs.py` reads the coordinate records,
`georef.py` settles the units, `cloud_file.py` unpacks the points, `cloud_points.py` chooses among
them and `thin.py` thins them; `scan_ground.py` tells ground by `ground_filter.py`, of other scans
too. Then `checks.py` asks whether a file can be what it says, `shots.py` joins files and
breaklines, `merge.py` merges shots at one spot, `marks.py` compares known marks. `outline.py` and
`geojson.py` read lines in plan for foundations and lots. A file that brings the ground ready made
is read alone, as `triangles.py`: LandXML by `landxml.py` (its pass over the file is
`landxml_scan.py`), meshes by `meshes.py`, with `obj.py` and `ply.py`. Plan and elevation come
back in the job's length unit.
"""
