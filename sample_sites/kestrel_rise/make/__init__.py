"""Makes the invented land of Kestrel Rise: its ground, its aerial and what stands on it.

Run ``python -m sample_sites.kestrel_rise.make`` from the top of the checkout. Everything comes
from numbers written here and one fixed seed; no survey, map or picture of a real place is used.
What a later step needs is in `landscape` (what is there) and `spots` (where things would go well).
"""
