import type { Rule } from '../rules/rule.js';
import { findUnit } from '../units/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { didYouMean } from './did-you-mean.js';

/** Limits that a profile overrides must exist and be convertible; anything else is a slip of the pen. */
export function checkOverrides(vehicle: Vehicle, rules: readonly Rule[]): readonly string[] {
  const faults: string[] = [];
  for (const [id, overrides] of Object.entries(vehicle.limits)) {
    const rule = rules.find((each) => each.id === id);
    if (rule === undefined) {
      faults.push(
        `limits.${id}: no such rule${didYouMean(
          id,
          rules.map((each) => each.id),
        )}`,
      );
      continue;
    }
    for (const [name, quantity] of Object.entries(overrides)) {
      const definition = rule.limits.find((each) => each.name === name);
      const names = [...new Set(rule.limits.map((each) => each.name))];
      if (definition === undefined) {
        faults.push(`limits.${id}.${name}: no such limit${didYouMean(name, names)}; this rule has ${names.join(', ')}`);
      } else if (findUnit(quantity.unit)?.quantity !== findUnit(definition.unit)?.quantity) {
        faults.push(
          `limits.${id}.${name}: found unit ${quantity.unit}, expected one convertible to ${definition.unit}`,
        );
      }
    }
  }
  return faults;
}
