"""The engine's version: stored figures and signed papers name it.

It is raised by whoever changes an answer: the first number where the contract means something else,
the second where a figure moves by more than rounding.
"""

VERSION = "1.0"
