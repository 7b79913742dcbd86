import type { DriveDraft, FaultFamily } from './fault.js';

/** K over the air outside of coolant, oil and transmission fluid before the start. */
function preheat(draft: DriveDraft, coolant: number, oil: number, fluid: number): void {
  draft.script[0] = { kind: 'coldStart', keyOn: 3, duration: 30 };
  for (const id of ['ambientTemperature', 'coolantTemperature', 'engineOilTemperature']) draft.kept.add(id);
  draft.disturb.push((plant) => {
    plant.preheated = { coolant, oil, fluid };
  });
}

/** provenance.cold-start: the engine was run before the visit and has cooled down to lukewarm. */
export const coldStart: FaultFamily = {
  rule: 'provenance.cold-start',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    draft.ambient.temperature = random.range(5, 24);
    const coolant = level === 'under' ? 4.5 * dial : 11 + dial * Math.max(0, 58 - draft.ambient.temperature - 12);
    preheat(draft, coolant, coolant * random.range(0.7, 0.95), coolant * random.range(0.3, 0.7));
    if (random.chance(0.5)) draft.added.add('engineRunTime');
    return { rule: this.rule, level, note: `${coolant.toFixed(0)} K over the air`, dialled: { over: coolant } };
  },
  truth({ plant }) {
    const heated = plant.preheated;
    if (heated === undefined) return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
    const over = heated.coolant;
    // A heater, or the sun on all of it, is no sign of anything.
    const even = heated.coolant - heated.fluid < 6 && over < 15;
    const heater = heated.fluid === 0;
    return {
      level: over > 6 && !even && !heater ? 'watch' : 'none',
      measures: { over },
      margin:
        even || heater
          ? Number.POSITIVE_INFINITY
          : Math.min(Math.abs(over - 6), Math.abs(heated.coolant - heated.fluid - 6)),
    };
  },
  decoys: {
    engineHeater(draft, random) {
      draft.ambient.temperature = random.range(-15, 3);
      const coolant = random.range(15, 35);
      preheat(draft, coolant, coolant * random.range(0.1, 0.5), 0);
    },
    sun(draft, random) {
      const over = random.range(5, 12);
      preheat(draft, over, over - 1, over - 2);
    },
  },
};
