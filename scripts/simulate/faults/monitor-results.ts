import { type FaultFamily, nearest } from './fault.js';

/** codes.monitor-results: a test of on-board monitoring close to its limit, or beyond it. */
export const monitorResults: FaultFamily = {
  rule: 'codes.monitor-results',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const left = level === 'under' ? 22 - 10 * dial : level === 'watch' ? 9 - 8 * dial : -2 - 40 * dial;
    const upper = random.chance(0.5);
    draft.disturb.push((plant) => {
      const { tests } = plant.memory;
      const i = upper ? 1 : 0;
      const test = tests[i]!;
      const value = upper ? test.high * (1 - left / 100) : test.low * (1 + left / 100);
      tests[i] = { ...test, value: Number(value.toPrecision(5)) };
    });
    return {
      rule: this.rule,
      level,
      note: `${left.toFixed(1)} % left to the ${upper ? 'upper' : 'lower'} limit`,
      dialled: { left },
    };
  },
  truth({ plant }) {
    let least = Number.POSITIVE_INFINITY;
    for (const { value, low, high } of plant.memory.tests) {
      if (high === 0 || (low === 0 && high === 65535)) continue;
      const above = (100 * (high - value)) / Math.min(high, high - low);
      const below = low === 0 ? Number.POSITIVE_INFINITY : (100 * (value - low)) / Math.min(low, high - low);
      least = Math.min(least, above, below);
    }
    return {
      level: least < 0 ? 'repair' : least < 10 ? 'watch' : 'none',
      measures: { least },
      margin: nearest(least, [0, 10]),
    };
  },
  decoys: {
    notRun(draft) {
      draft.disturb.push((plant) => {
        plant.memory.tests = plant.memory.tests.map((test, i) =>
          i < 2 ? { ...test, value: 0, low: 0, high: 0 } : test,
        );
      });
    },
    openEnded(draft, random) {
      draft.disturb.push((plant) => {
        plant.memory.tests.push({
          name: 'Misfire count cylinder 1 test',
          value: random.int(0, 3),
          low: 0,
          high: 65535,
          unit: 'count',
        });
      });
    },
  },
};
