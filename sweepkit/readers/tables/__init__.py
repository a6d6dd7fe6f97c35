"""Tables with named columns: where the rows are, what each column holds, and what they say of the reflection.

``layout`` finds the parts of the file, ``columns`` names the columns, ``grid`` reads the numbers, ``measured`` settles
what they mean, ``reflection`` has one row for every quantity, and ``agreement`` compares all that say the same.
"""
