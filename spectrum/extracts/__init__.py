"""Reading a regulator's public extract of its licence register, and bringing it into ours.

One row of an extract is one directed path: a transmitter, a receiver, a frequency, a
licence. The way of a file: ``reading`` turns bytes into rows of cells, ``entries`` turns
cells into typed values (or says row by row what is wrong), ``quality`` says what the
extract contradicts itself in, ``planning`` compares it with the register, ``writing``
carries the plan out in one transaction. ``mapping`` says which column is what.
"""
