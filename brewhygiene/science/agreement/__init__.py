"""How readings of two methods, or of two people, agree; one scale's limit on the other scale.

Readings come in pairs: the same place read with both. Nothing here knows meters; lengths, RLU and
their logarithms are all one to it, except in ``bridging``, whose business is limits in RLU.
"""
