import type { CarSpec } from './car.js';
import { OFTEN_LEFT_OUT } from './channel-sets.js';
import type { DriveDraft } from './faults/fault.js';
import { Filter } from './filter.js';
import { injectionOf } from './fuel-system.js';
import { Plant } from './plant.js';
import type { Random } from './random.js';
import type { Phase } from './script.js';

/** kg/L of petrol, as in the claims of injectors. */
const DENSITY = 0.75;

/**
 * A healthy drive in which every question of engine, fuel, air and exhaust can be answered: from cold, with all that the
 * control units serve, over every phase that a rule asks for. Rules that are never judged cannot cry wolf.
 */
export function thorough(draft: DriveDraft, random: Random): void {
  const { car } = draft;
  draft.script = phases(car, random);
  draft.rate = random.pick([10, 25, 25, 40]);
  const narrow = random.chance(0.4);
  const down = random.chance(0.5);
  const learned = random.range(0, 0.25);
  const offset = random.range(-0.6, 0.6);
  const ripple = random.range(1.2, 3);
  draft.disturb.push((plant) => {
    plant.narrowBand = narrow;
    plant.octaneDown = down;
    plant.octaneLearned = learned;
    plant.octaneAuthority = 6;
    plant.filterOffset = offset;
    plant.ripple = ripple;
  });
  draft.tuned.set('engineSpeed', { noise: 1.5 });
  draft.tuned.set('chargeAirTemperature', { refresh: random.pick([2, 5, 10]) });
  for (const id of served(car, narrow)) draft.added.add(id);
  for (const id of OFTEN_LEFT_OUT) draft.kept.add(id);
  const { flow: size, kind } = injectionOf(car);
  draft.claims = {
    ...draft.claims,
    power: `${car.engine.ratedPower} kW`,
    injectors: `${((size * 60) / DENSITY).toFixed(1)} cc/min`,
    injectorPressure: kind === 'port' ? '300 kPa' : '100 bar',
  };
  const { flow, drop } = new Filter(car, new Plant(), 20).sheet;
  draft.profile.push(
    `exhaust: { particulateFilter: { fitted: true, pressureDrop: ${drop.toFixed(2)} kPa, flow: ${flow.toFixed(0)} m3/h } }`,
  );
}

function served(car: CarSpec, narrow: boolean): string[] {
  const ids = [
    'chargeAirTemperature',
    'wastegateDuty',
    'wastegatePosition',
    'wastegateTarget',
    'catalystTemperature.bank1Sensor1',
    'particulateFilterPressureDrop',
    'particulateFilterTemperature',
    'exhaustGasTemperature.sensor2',
    'fuelRailPressureTarget',
    'fuelFeedPressure',
    'fuelFeedPressureTarget',
    'injectionTime',
    'purgeDuty',
    'fuelTankPressure',
    'octaneLearning',
    'knockLearned',
    'lateralAcceleration',
    'coolantLevelWarning',
    'coolantPressure',
    'idleSpeedTarget',
    'starterActive',
    'fuelCut',
  ];
  for (let k = 1; k <= car.engine.banks; k++) {
    ids.push(`oxygenSensorVoltage.bank${k}Sensor2`, `exhaustGasTemperature.bank${k}`);
    if (narrow) ids.push(`oxygenSensorVoltage.bank${k}Sensor1`);
  }
  for (const stem of ['misfireCount', 'preIgnitionCount'])
    for (let c = 1; c <= car.engine.cylinders; c++) ids.push(`${stem}.cylinder${c}`);
  return ids;
}

function phases(car: CarSpec, random: Random): Phase[] {
  const gears = car.transmission.gears.length;
  const gear = gears > 6 ? 4 : 3;
  const top = car.engine.revLimit - 400;
  const idle = (duration: number): Phase => ({ kind: 'idle', duration });
  const cruise = (speed: number, duration: number, grade = 0): Phase => ({ kind: 'cruise', speed, duration, grade });
  const pull = (extra: number, fromRpm: number, grade = 0): Phase => ({
    kind: 'pull',
    gear: gear + extra,
    fromRpm,
    toRpm: top,
    grade,
  });
  const cuts = Array.from({ length: 7 }, (): Phase[] => [
    cruise(95, random.range(11, 15)),
    { kind: 'coast', to: 58 },
    cruise(60, 6),
  ]).flat();
  const list: Phase[] = [
    { kind: 'coldStart', keyOn: random.range(8, 12), duration: 60 },
    ...(car.transmission.kind === 'manual' ? [] : [{ kind: 'selectorExercise', repeats: 3, hold: 4 } as const]),
    cruise(50, 40),
    idle(50),
    cruise(50, 40),
    idle(50),
    cruise(50, 40),
    idle(50),
    { kind: 'town', duration: 80, limit: 50 },
    { kind: 'gentleGears', to: 110 },
    { kind: 'motorway', speed: random.range(100, 120), duration: random.range(180, 260) },
  ];
  for (let k = 0; k < 2; k++)
    list.push(
      cruise(70 + 20 * k, 40),
      { kind: 'rollingAcceleration', from: 60, to: 110, acceleration: 1.7, repeats: 2 },
      cruise(80, 25, 0.085),
      cruise(80, 15),
      cruise(90, 25, 0.085),
    );
  list.push(
    ...cuts,
    cruise(85, 130),
    pull(0, random.range(1900, 2300)),
    pull(0, random.range(1900, 2300)),
    pull(1, random.range(2000, 2300), 0.05),
    pull(1, random.range(2000, 2300), 0.05),
    { kind: 'tipIn', times: 4 },
    {
      kind: 'circuit',
      duration: 70,
      top: 150,
      corner: random.range(75, 85),
      lateral: random.range(7, 9),
      sporting: true,
    },
    cruise(80, 60),
    { kind: 'stop', stand: 3 },
    { kind: 'restart', off: random.range(4, 10), duration: 20 },
    cruise(70, 30),
    { kind: 'fullLock', duration: 22 },
    { kind: 'fullLock', duration: 14, share: 0.5 },
    { kind: 'hotIdle', duration: random.range(60, 90), selector: random.pick(['P', 'N'] as const) },
  );
  return list;
}
