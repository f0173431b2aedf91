"""Diagnosis of the whole circuit: one pure function per finding, and their combination into likelihoods.

`evidence.gather` turns readings into residuals against what a healthy unit of this kind shows under these conditions;
every finding weighs them against its own signature; `combine.diagnose` puts the findings together.
"""
