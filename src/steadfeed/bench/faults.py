"""Faults of the whole circuit, each as a number; everything at its default is a healthy unit."""

from __future__ import annotations

from dataclasses import dataclass, field

from steadfeed.bench.metering import MeteringFaults


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong with one circuit.

    charge: refrigerant in it over the right charge [-]. non_condensables: mass of air over the mass of air that fills
    the circuit at one atmosphere [-]. condenser_fouling: share of condenser air flow lost [-]; condenser_film: share of
    its air-side conductance lost [-]. indoor_airflow: share of indoor air flow lost [-]. liquid_restriction: pressure
    loss in the liquid line over the rated difference across the metering device [-], at rated flow. compressor_leak:
    share of the swept flow that blows back at a pressure ratio of 3 [-]. reversing_leak: hot gas that leaks to suction,
    share of the rated flow at rated pressures [-]. metering: of the metering device in use.
    """

    charge: float = 1.0
    non_condensables: float = 0.0
    condenser_fouling: float = 0.0
    condenser_film: float = 0.0
    indoor_airflow: float = 0.0
    liquid_restriction: float = 0.0
    compressor_leak: float = 0.0
    reversing_leak: float = 0.0
    metering: MeteringFaults = field(default_factory=MeteringFaults)


HEALTHY = Faults()
