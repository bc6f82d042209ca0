"""An outcome as JSON for machines: stable keys, SI, unit suffixes. Other tools rely on these names."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from vaporwright.actions.size_job import Outcome
from vaporwright.display_units import SI, show
from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.electrical_loads import LoadTable
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.unit.balance import Operation, SeasonResult
from vaporwright.unit.body import Body
from vaporwright.unit.candidates import Candidate
from vaporwright.unit.field import Value
from vaporwright.unit.figures import Section
from vaporwright.unit.heat import HeatDetail
from vaporwright.unit.running_cost import running_cost


def outcome_as_json(outcome: Outcome) -> dict[str, Any]:
    """The whole outcome as plain dictionaries, lists, texts and numbers."""
    answer = outcome.answer
    unit, warm_up = answer.unit, answer.warm_up
    return {
        "job": {"name": answer.job.text("job.name"), "customer": answer.job.text("job.customer")},
        "catalogue": {"name": outcome.catalogue.name, "invented": outcome.catalogue.invented},
        "unit": {
            "label": unit.label(),
            "tower": unit.tower.part_id,
            "towers": unit.towers,
            "blower": unit.blower.part_id,
            "tank": unit.tank.part_id,
            "heat_source": unit.heat_source.part_id,
            "pump": unit.pump.part_id,
            "spray_flow_m3_s": unit.spray_flow_m3_s,
        },
        "duty": {
            "required_evaporation_kg_s": answer.required_kg_s,
            "share_of_capacity": answer.share_of_capacity,
            "meets_duty": answer.meets_duty,
            "governing_season": answer.governing,
        },
        "capacity": {
            name: {**season_as_json(result), "running_cost": _cost(outcome, result)}
            for name, result in answer.seasons.items()
        },
        "end_of_batch": {
            "season": answer.governing,
            "evaporation_kg_s": answer.end_of_batch.evaporation_kg_s,
            "settling_temperature_K": answer.end_of_batch.settling_temperature_K,
            "water_activity": answer.end_of_batch.operation.water_activity,
        },
        "warm_up": {
            "start_temperature_K": warm_up.start_K,
            "target_temperature_K": warm_up.target_K,
            "tower_off_s": warm_up.tower_off_s,
            "tower_on_s": warm_up.tower_on_s,
            "stalls_at_temperature_K": warm_up.stalls_at_K,
        },
        "assumptions": [
            {"key": entry.key, "value": _plain(entry.value), "low": entry.low, "high": entry.high, "basis": entry.basis}
            for entry in answer.job.assumptions
        ],
        "questions": [
            {
                "key": question.key,
                "question": question.text,
                "assumed": _plain(question.assumed),
                "low": question.low,
                "high": question.high,
                "at_low_kg_s": question.at_low_kg_s,
                "at_high_kg_s": question.at_high_kg_s,
                "moves_kg_s": question.moves_kg_s,
                "moves": question.moves,
            }
            for question in outcome.questions
        ],
        **_sections(outcome.body),
        "materials": _materials(outcome.body),
        "warnings": [{"name": notice.name, "text": notice.words(_shown)} for notice in answer.warnings],
        "shown": [_candidate(candidate) for candidate in outcome.shown],
        "candidates": [_candidate(candidate) for candidate in outcome.candidates],
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    unit = candidate.unit
    return {
        "unit": unit.label(),
        "parts": {
            "tower": unit.tower.part_id,
            "towers": unit.towers,
            "tank": unit.tank.part_id,
            "heat_source": unit.heat_source.part_id,
            "pump": unit.pump.part_id,
        },
        "evaporation_kg_s": candidate.evaporation_kg_s,
        "settling_temperature_K": candidate.settling_temperature_K,
        "verdict": candidate.verdict,
        "conflicts": list(candidate.conflicts),
        "criteria": None if candidate.criteria is None else asdict(candidate.criteria),
        "why": None if candidate.why is None else candidate.why.words(_shown),
    }


def difference_as_json(old: Outcome, new: Outcome) -> dict[str, Any]:
    """Every value of two outcomes that differs, by its path: the old one and the new, null where there is none."""
    before, after = (dict(_leaves(_without_search(outcome))) for outcome in (old, new))
    return {
        path: {"old": before.get(path), "new": after.get(path)}
        for path in dict.fromkeys((*before, *after))
        if before.get(path) != after.get(path)
    }


def _without_search(outcome: Outcome) -> dict[str, Any]:
    """The outcome without what else was tried: a change order moves the unit, not the search."""
    answer = outcome_as_json(outcome)
    return {key: value for key, value in answer.items() if key not in ("shown", "candidates")}


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _leaves(inner, f"{path}[{number}]")
    else:
        yield path, value


def _sections(body: Body) -> dict[str, Any]:
    details = {"levels": _level_details(body.levels), "electrical": _circuits(body.load_table)}
    return {section.key: {**_section(section), **details.get(section.key, {})} for section in body.sections}


def _section(section: Section) -> dict[str, Any]:
    """A section's figures and warnings, or why it could not be solved."""
    if section.problem:
        return {"problem": section.problem}
    return {
        **{figure.name: figure.value for figure in section.figures},
        "warnings": [{"name": notice.name, "text": notice.words(_shown)} for notice in section.notices],
    }


def _level_details(stack: LevelStack | None) -> dict[str, Any]:
    """Rods as cut, and what stands in the way."""
    if stack is None:
        return {}
    return {
        "rods": [
            {
                "name": rod.name,
                "tip_m": rod.tip_height_m,
                "cut_length_m": rod.cut_length_m,
                "tolerance_m": rod.tolerance_m,
            }
            for rod in stack.rods
        ],
        "conflicts": [
            {
                "mark": conflict.mark,
                "against": conflict.against,
                "size": conflict.size,
                "unit": conflict.unit,
                "remedies": [remedy.change for remedy in conflict.remedies],
            }
            for conflict in stack.conflicts
        ],
    }


def _circuits(table: LoadTable | None) -> dict[str, Any]:
    """The load table's circuits."""
    return {} if table is None else {"circuits": [asdict(circuit) for circuit in table.circuits]}


def _materials(body: Body) -> dict[str, Any]:
    """The first look at materials, part by part, worst finding first."""
    if body.materials is None:
        return {"problem": body.materials_problem}
    return {
        "parts": [
            {
                "part": verdict.part,
                "material": verdict.material,
                "verdict": verdict.suitability,
                "findings": [
                    {
                        "verdict": finding.suitability,
                        "reason": finding.reason,
                        "source": finding.source_id,
                        "quantity": finding.quantity,
                        "value": finding.value,
                        "limit": finding.limit,
                    }
                    for finding in verdict.findings
                ],
            }
            for verdict in body.materials.parts
        ]
    }


def _plain(value: Value | None) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _shown(value_si: float, quantity: str) -> str:
    return show(value_si, quantity, SI)


def season_as_json(result: SeasonResult) -> dict[str, Any]:
    """One season of an answer."""
    operation = result.operation
    energy, tower, air = operation.energy, operation.tower, result.conditions.air
    return {
        "evaporation_kg_s": operation.evaporation_kg_s,
        "settling_temperature_K": result.settling_temperature_K,
        "limit": result.limit,
        "limited_by": result.heat.limit if result.limit == "heat" else result.clamp_part,
        "tower_evaporation_kg_s": operation.tower_evaporation_kg_s,
        "surface_evaporation_kg_s": operation.surface_evaporation_kg_s,
        "heat_W": result.heat_W,
        "heat_full_output_W": result.heat.heat_W,
        "fuel_or_power_W": result.fuel_or_power_W,
        "heat_efficiency": result.heat.efficiency,
        "heat_per_evaporation_J_kg": result.heat_W / operation.evaporation_kg_s,
        "blower_power_W": result.blower_power_W,
        "pump_power_W": result.pump_power_W,
        "drift_kg_s": operation.drift_kg_s,
        "feed_kg_s": operation.feed_kg_s,
        "clamp_temperature_K": result.clamp_K,
        "clamp_part": result.clamp_part,
        "tower_at_clamp_kg_s": _at_clamp_kg_s(result.at_clamp),
        "air": {
            "outdoor_temperature_K": air.outdoor_temperature_K,
            "temperature_K": air.temperature_K,
            "humidity_ratio_kg_kg": air.humidity_ratio_kg_kg,
            "wet_bulb_temperature_K": air.wet_bulb_temperature_K,
        },
        "tower": {
            "merkel_number": tower.merkel_number,
            "water_to_air_ratio": tower.water_to_air_ratio,
            "dry_air_flow_kg_s": tower.dry_air_flow_kg_s,
            "blower_flow_m3_s": tower.blower_flow_m3_s,
            "blower_static_pressure_Pa": tower.blower_static_pressure_Pa,
            "water_out_temperature_K": tower.rating.water_out_temperature_K,
            "air_out_temperature_K": tower.rating.air_out_temperature_K,
            "air_out_humidity_ratio_kg_kg": tower.rating.air_out_humidity_ratio_kg_kg,
            "exhaust_flow_m3_s": tower.exhaust_flow_m3_s,
        },
        "energy": {
            "heat_source_W": energy.heat_source_W,
            "pump_W": energy.pump_W,
            "feed_enthalpy_W": energy.feed_enthalpy_W,
            "tower_air_W": energy.tower_air_W,
            "surface_vapour_W": energy.surface_vapour_W,
            "surface_dry_W": energy.surface_dry_W,
            "walls_W": energy.walls_W,
            "piping_W": energy.piping_W,
            "drift_W": energy.drift_W,
            "closing_W": energy.closing_W,
        },
        "heat_source": _heat_detail(result.heat.detail),
    }


def _cost(outcome: Outcome, result: SeasonResult) -> dict[str, float] | None:
    cost = running_cost(outcome.answer, result)
    if cost is None:
        return None
    return {
        "heat_USD_s": cost.heat_USD_s,
        "power_USD_s": cost.power_USD_s,
        "per_volume_USD_m3": cost.per_volume_USD_m3,
    }


def _at_clamp_kg_s(operation: Operation | None) -> float | None:
    return None if operation is None else operation.evaporation_kg_s


def _heat_detail(detail: HeatDetail) -> dict[str, Any]:
    if isinstance(detail, GasBurnerRating):
        return {
            "gross_efficiency": detail.gross_efficiency,
            "stack_temperature_K": detail.stack_temperature_K,
            "fuel_flow_standard_m3_s": detail.fuel_flow_standard_m3_s,
            "combustion_air_flow_kg_s": detail.combustion_air_flow_kg_s,
            "flue_flow_m3_s": detail.flue_flow_m3_s,
            "flue_dew_point_K": detail.flue_dew_point_K,
            "condenses": detail.condenses,
            "bath_temperature_for_dry_tube_K": detail.bath_temperature_for_dry_tube_K,
            "mean_net_heat_flux_W_m2": detail.mean_net_heat_flux_W_m2,
        }
    if isinstance(detail, ElectricHeaterRating):
        return {
            "line_current_A": detail.line_current_A,
            "branch_rating_A": detail.branch_rating_A,
            "circuits": detail.circuits,
            "circuit_current_A": detail.circuit_current_A,
            "watt_density_W_m2": detail.watt_density_W_m2,
            "sheath_temperature_K": detail.sheath_temperature_K,
        }
    return {
        "overall_coefficient_W_m2K": detail.overall_coefficient_W_m2K,
        "area_m2": detail.area_m2,
        "steam_flow_kg_s": detail.steam_flow_kg_s,
        "coil_temperature_K": detail.coil_temperature_K,
        "condensate_temperature_K": detail.condensate_temperature_K,
    }
