import { expect, it } from 'vitest';
import { LEVELS } from '../../src/plots/levels.js';
import { RULES } from '../../src/rules/index.js';

it('draws only limits that the rules have', () => {
  for (const [id, levels] of Object.entries(LEVELS)) {
    const rule = RULES.find((each) => each.id === id);
    expect(rule, id).toBeDefined();
    const names = new Set(rule!.limits.map(({ name }) => name));
    for (const { limits } of levels)
      for (const name of Object.keys(limits)) {
        // A ladder is written once; the rule may stop at `repair`.
        if (['watch', 'repair', 'stop'].includes(name) && names.has('watch')) continue;
        expect(names, `${id}: ${name}`).toContain(name);
      }
  }
});

it('draws on channels that the rule reads, or on what it computes', () => {
  const computed = new Set([
    'totalTrim',
    'clutchSlip',
    'boostError',
    'acceleration',
    'lambdaOver',
    'fuelRailPressureShare',
  ]);
  for (const [id, levels] of Object.entries(LEVELS)) {
    const { needs } = RULES.find((each) => each.id === id)!;
    const read = [...needs.channels, ...needs.optional].map((each) => each.split('.')[0]);
    for (const { on } of levels) expect(computed.has(on) || read.includes(on), `${id}: ${on}`).toBe(true);
  }
});
