import { type FaultFamily, insertWarm, nearest } from './fault.js';

/** Excess over the target (1) per level: there is no watch with a target. */
const EXCESS = { under: [0.01, 0.042], watch: [0.058, 0.09], repair: [0.058, 0.09], stop: [0.115, 0.2] } as const;

/** fuel.lambda-load: the fuel table is too lean at full load, or pump and injectors are at their end. */
export const lambdaLoad: FaultFamily = {
  rule: 'fuel.lambda-load',
  levels: ['repair', 'stop'],
  apply(draft, level, dial, random) {
    const [low, high] = EXCESS[level];
    const excess = low + (high - low) * dial;
    const { fullLoadLambda, revLimit } = draft.car.engine;
    const kind = random.pick(['table', 'supply']);
    const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
    insertWarm(draft.script, [
      { kind: 'pull', gear, fromRpm: 2200, toRpm: revLimit - 500 },
      { kind: 'cruise', speed: 80, duration: 20 },
    ]);
    draft.disturb.push((plant) => {
      if (kind === 'table') plant.fullLoadLean = 1 + excess / fullLoadLambda;
      else plant.topLean = 1 + excess / fullLoadLambda;
    });
    return { rule: this.rule, level, note: `${kind} +${excess.toFixed(3)}`, dialled: { excess } };
  },
  truth(sim) {
    const { repair, stop, excess, seconds } = sim.truth.lean;
    // A lean moment that just lasts, or just does not, may be cut short by the end of the pull for a sensor that is late.
    const brief = (stop > 0.15 && stop < 0.7) || (stop <= 0.15 && repair > 0.2 && repair < 0.9);
    const level = stop >= 0.3 ? 'stop' : repair >= 0.5 ? 'repair' : 'none';
    return {
      level,
      measures: seconds > 0.5 && !Number.isNaN(excess) ? { excess } : {},
      margin: brief ? 0 : Number.isNaN(excess) ? 1 : nearest(excess, [0.05, 0.1]),
    };
  },
  decoys: {
    /** Calibration for lambda 1 at full load. */
    lambdaOne(draft) {
      draft.car = { ...draft.car, engine: { ...draft.car.engine, fullLoadLambda: 1 } };
    },
    /** Component protection: enriched only after some seconds of high load. */
    delayedProtection(draft, random) {
      const after = random.range(1, 4);
      draft.disturb.push((plant) => {
        plant.enrichAfter = after;
      });
    },
    lateSensor(draft, random) {
      const delay = random.range(0.15, 0.45);
      draft.disturb.push((plant) => {
        plant.sensorDelay = delay;
      });
    },
    scavenging(draft, random) {
      const share = random.range(0.06, 0.15);
      draft.disturb.push((plant) => {
        plant.scavenging = share;
      });
    },
    /** Gas under pressure before the turbine: the sensor reads the rich mixture richer than it is. */
    backPressure(draft, random) {
      const share = random.range(0.08, 0.2);
      draft.disturb.push((plant) => {
        plant.backPressure = share;
      });
    },
    fuelCuts(draft) {
      const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
      insertWarm(draft.script, [
        { kind: 'cruise', speed: 90, duration: 8 },
        { kind: 'coast', to: 60 },
        { kind: 'pull', gear, fromRpm: 2200, toRpm: draft.car.engine.revLimit - 600 },
        { kind: 'coast', to: 60 },
        { kind: 'pull', gear, fromRpm: 2200, toRpm: draft.car.engine.revLimit - 600 },
      ]);
    },
    tipIns(draft) {
      insertWarm(draft.script, [
        { kind: 'cruise', speed: 70, duration: 5 },
        { kind: 'tipIn', times: 5 },
      ]);
    },
  },
};
