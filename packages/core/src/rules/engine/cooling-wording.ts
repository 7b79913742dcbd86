import type { Limit, Severity } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import type { HeatEvent, HeatReading, Where } from './cooling-reading.js';
import type { Thermostat } from './cooling-thermostat.js';

const PLACES: Readonly<Record<Where, string>> = {
  standstill: ' with the car standing or crawling: the fan is the first suspect',
  speed: ' at road speed: flow is the first suspect, not the fan',
  both: '',
  unknown: '',
};

const CAUSES: Readonly<Record<Where, readonly string[]>> = {
  standstill: [
    'cooling fan, its control or fuse dead, or a stage of it missing',
    'coolant level low or air in the system',
    'fins of the radiators blocked by dirt outside',
    'thermostat opens too little',
  ],
  speed: [
    'coolant level low or air in the system',
    'thermostat stuck nearly closed',
    'water pump: impeller or electric drive failing',
    'radiator blocked inside, or its air path blocked',
    'cylinder head gasket: combustion gas in the coolant',
  ],
  both: [
    'coolant level low or air in the system',
    'thermostat stuck nearly closed',
    'water pump, radiator or fan failing',
    'cylinder head gasket: combustion gas in the coolant',
  ],
  unknown: [
    'coolant level low or air in the system',
    'thermostat, water pump, radiator or fan failing',
    'cylinder head gasket: combustion gas in the coolant',
  ],
};

export const COOL_CAUSES = [
  'thermostat stuck open, or its seal worn',
  'mapped thermostat whose heating is always on',
  'fan running all the time',
  'temperature sensor reads low',
];

export const COOL_ADVICE = [
  'Feel the radiator hose during a warm-up from cold: it has to stay cold until the engine is warm.',
  'Compare the reading with the outside air after a night: it tells a low-reading sensor.',
  'Replace the thermostat: an engine that runs cool wears faster, thins its oil with fuel and fails its exhaust test.',
];

/** Cheapest first. */
export function heatAdvice(severity: Severity): string[] {
  return [
    ...(severity === 'stop'
      ? ['Stop, let the engine cool down, and do not drive on before the cause is found: heads warp within minutes.']
      : []),
    'Check the coolant level when cold, and look for leaks, white crust and oil in the coolant.',
    'Check that the fan runs in every stage, and that the radiators are clear.',
    'Test the system for pressure and the coolant for combustion gas.',
    'Check thermostat, water pump and radiator flow.',
  ];
}

export function heatCauses(where: Where): readonly string[] {
  return CAUSES[where];
}

export function heatSummary(event: HeatEvent, limits: Readonly<Record<string, Limit>>, count: number): string {
  const more = count > 1 ? ` It was too hot ${count} times.` : '';
  if (!Number.isNaN(event.rise)) {
    return `Coolant at ${figure(event.peak)} °C was rising by ${figure(10 * event.rise)} K in 10 s (limit ${figure(limits.rising!.value)} K above ${figure(limits['rising-from']!.value)} °C) at ${clockTime(event.from)}${PLACES[event.where]}.${more}`;
  }
  const limit = limits[event.severity]!;
  return `Coolant reached ${figure(event.peak)} °C (limit ${figure(limit.value)} °C${event.severity === 'watch' ? ' for 30 s' : ''}) at ${clockTime(event.peakAt)}${PLACES[event.where]}.${more}`;
}

export function fallSummary(thermostat: Thermostat, limit: Limit): string {
  const fall = thermostat.level - thermostat.atSpeed;
  return `At 80 to 120 km/h the coolant settles at ${figure(thermostat.atSpeed)} °C, ${figure(fall)} K below its own level of ${figure(thermostat.level)} °C in town (limit ${figure(limit.value)} K, at ${clockTime(thermostat.atSpeedFrom)}): the thermostat does not close.`;
}

export function coolSummary(thermostat: Thermostat, limit: Limit): string {
  return `After ${figure(thermostat.run / 60, 0)} minutes of running the coolant never got beyond ${figure(thermostat.settled)} °C (limit ${figure(limit.value)} °C): the engine does not get warm.`;
}

export function coolRoadSummary(thermostat: Thermostat, limit: Limit): string {
  return `Long after the warm-up the coolant holds ${figure(thermostat.roadWarm)} °C at 80 to 120 km/h (limit ${figure(limit.value)} °C, at ${clockTime(thermostat.roadWarmAt)}): the thermostat does not close.`;
}

export function coolStaysSummary(thermostat: Thermostat, limit: Limit): string {
  return `Long after the warm-up the coolant stays at ${figure(thermostat.stays)} °C and below for a minute of driving (limit ${figure(limit.value)} °C, at ${clockTime(thermostat.staysAt)}): the thermostat does not close.`;
}

export function clearSummary(
  reading: Pick<HeatReading, 'peak' | 'peakAt'>,
  thermostat: Thermostat,
  limit: Limit,
): string {
  const level = Number.isNaN(thermostat.level) ? '' : `, it holds ${figure(thermostat.level, 0)} °C in town`;
  const road = Number.isNaN(thermostat.atSpeed) ? '' : ` and ${figure(thermostat.atSpeed, 0)} °C on the road`;
  return `Coolant peaked at ${figure(reading.peak)} °C at ${clockTime(reading.peakAt)} (limit ${figure(limit.value)} °C for 30 s)${level}${level === '' ? '' : road}.`;
}
