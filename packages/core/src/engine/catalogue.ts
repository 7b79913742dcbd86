import type { Rule } from '../rules/rule.js';
import { findUnit } from '../units/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { didYouMean } from './did-you-mean.js';

/** What is wrong with an overridden limit, and where in the profile: `['limits', rule id, limit name]`. */
export interface OverrideFault {
  readonly path: readonly string[];
  readonly message: string;
}

/** Limits that a profile overrides must exist and be convertible; anything else is a slip of the pen. */
export function checkOverrides(vehicle: Vehicle, rules: readonly Rule[]): readonly OverrideFault[] {
  const faults: OverrideFault[] = [];
  const fault = (message: string, ...path: string[]) => faults.push({ path: ['limits', ...path], message });
  for (const [id, overrides] of Object.entries(vehicle.limits)) {
    const rule = rules.find((each) => each.id === id);
    if (rule === undefined) {
      const ids = rules.map((each) => each.id);
      fault(`no such rule${didYouMean(id, ids)}`, id);
      continue;
    }
    for (const [name, quantity] of Object.entries(overrides)) {
      const definition = rule.limits.find((each) => each.name === name);
      const names = [...new Set(rule.limits.map((each) => each.name))];
      if (definition === undefined) {
        fault(`no such limit${didYouMean(name, names)}; this rule has ${names.join(', ')}`, id, name);
      } else if (findUnit(quantity.unit)?.quantity !== findUnit(definition.unit)?.quantity) {
        fault(`found unit ${quantity.unit}, expected one convertible to ${definition.unit}`, id, name);
      }
    }
  }
  return faults;
}
