import type { Context, Limit, LimitDefinition, Rule } from '../rules/rule.js';
import { convert } from '../units/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';

/** What a rule gets beside the drive: the car and the limits that count for it. */
export function contextFor(rule: Pick<Rule, 'id' | 'limits'>, vehicle: Vehicle): Context {
  return {
    vehicle,
    limits(variant = {}) {
      const chosen: Record<string, Limit> = {};
      for (const definition of rule.limits) {
        if (applies(definition, variant)) chosen[definition.name] = resolve(rule.id, definition, vehicle);
      }
      return chosen;
    },
  };
}

function applies(definition: LimitDefinition, variant: Readonly<Record<string, string>>): boolean {
  return Object.entries(definition.when ?? {}).every(([key, value]) => variant[key] === value);
}

/** The profile's own limit wins, converted into the rule's unit and shown as the user's. */
function resolve(ruleId: string, definition: LimitDefinition, vehicle: Vehicle): Limit {
  const { name, value, unit, comparison, source, about } = definition;
  const own = vehicle.limits[ruleId]?.[name];
  if (own === undefined) return { name, value, unit, comparison, source, about };
  return { name, value: convert(own.value, own.unit, unit), unit, comparison, source: 'profile', about };
}
