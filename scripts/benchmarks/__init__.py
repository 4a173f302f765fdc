"""The engine timed beside other libraries, on made ground whose volumes are known exactly.

`rows` says what is beside what; each engine of each row is a function that makes a `Case`, in
`tin`, `pit`, `two_tins`, `solids`, `whole` and `commands`. `child` runs one case in a process of
its own, so that its peak memory is its own; `table` prints.
"""
