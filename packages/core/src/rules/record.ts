import type { Rule } from './rule.js';

/** A rule as plain data, for JSON and generated pages; functions left out. */
export function ruleRecord(rule: Rule): object {
  const { id, system, question, why, method, weight, needs, limits, decoys, cautions, proves } = rule;
  return {
    id,
    system,
    question,
    why,
    method,
    weight,
    needs: {
      channels: needs.channels,
      ...(needs.instead === undefined ? {} : { instead: needs.instead }),
      optional: needs.optional,
      derived: needs.derived.map((recipe) => recipe.id),
      conditions: needs.conditions,
    },
    limits,
    decoys,
    cautions,
    proves,
  };
}
