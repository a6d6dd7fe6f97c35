"""One sweep reviewed: figures at each plane, bands, and whether the sweep was good enough to say so.

``planes`` lays out what is known at the radio and at the feedpoint as ``view``s; ``plane`` and ``bands``
take the figures off them; ``adequacy`` judges the sweep itself and ``next_sweep`` says which one to take;
``review`` puts it together. The folder has the plural, since ``sweepkit.review`` is the function.
"""

from sweepkit.reviews.review import Review, review

__all__ = ["Review", "review"]
