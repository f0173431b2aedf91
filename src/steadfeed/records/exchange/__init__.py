"""Everything in a store as files that other programs read, and back without loss.

What “without loss” means, and what the tests hold: every log byte for byte (by its hash), every streamed reading with
its value as text, unit, times, order and missing values, every mark, thing, fact, edit and verdict with its identity,
and every attachment. Not exchanged: local keys, the batches in which readings were committed, and what is derived.
"""
