import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** engine.coolant-loss: steam at the sensor, with or without another sign that water is missing. */
export const coolantLoss: FaultFamily = {
  rule: 'engine.coolant-loss',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const size = level === 'under' ? 0.5 + 2 * dial : 7 + 9 * dial;
    const every = random.range(25, 50);
    const gas = random.chance(0.5);
    draft.disturb.push((plant) => {
      plant.bubbles = { every, size };
      if (level !== 'repair') return;
      if (gas) plant.gasPressure = 60;
      else plant.coolantLow = true;
    });
    for (const id of ['coolantLevelWarning', 'coolantPressure']) draft.added.add(id);
    prepare(draft);
    return { rule: this.rule, level, note: `${size.toFixed(1)} K every ${every.toFixed(0)} s`, dialled: { size } };
  },
  truth,
  decoys: {
    thermostatOpens(draft, random) {
      draft.ambient.temperature = random.range(-10, 5);
      prepare(draft);
    },
    mappedThermostat(draft, random) {
      draft.disturb.push((plant) => {
        plant.thermostatMap = random.range(8, 14);
      });
      prepare(draft);
    },
    looseConnector(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['coolantTemperature'],
        from: 0,
        to: 1e9,
        value: random.range(60, 120),
        share: 0.002,
      });
      prepare(draft);
    },
  },
};

function prepare(draft: DriveDraft): void {
  draft.tuned.set('coolantTemperature', { ...draft.tuned.get('coolantTemperature'), refresh: 2 });
  insertWarm(draft.script, [{ kind: 'motorway', speed: 110, duration: 300 }]);
}

/** degC, limit of the rule catalogue for a coolant that was also too hot. */
const HOT = 117;

/** The dial: steam that swings by more than 4 K, often enough. */
function truth(sim: Simulation): TrueFinding {
  const { bubbles, coolantLow, gasPressure } = sim.plant;
  const size = bubbles?.size ?? 0;
  const found = size > 4;
  // What the sensor shows: steam that makes it read higher included.
  const peak = sim.signals.get('coolantTemperature')!.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const hot = peak > HOT;
  return {
    level: found ? (hot ? 'stop' : coolantLow || gasPressure > 0 ? 'repair' : 'watch') : 'none',
    measures: {},
    margin: Math.min(Math.abs(size - 4), found ? Math.abs(peak - HOT) : Number.POSITIVE_INFINITY),
  };
}
