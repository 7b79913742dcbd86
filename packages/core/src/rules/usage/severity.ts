import { ACCELERATION } from '../../derived/acceleration.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { isRefusal } from '../../derived/recipe.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { BRAKING } from '../../derived/segments.js';
import { SPEED } from '../../derived/speed.js';
import { TRIP } from '../../derived/trip.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeSeverity, LONG_ENOUGH } from './severity-judgement.js';
import { readSeverity } from './severity-reading.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  { name: 'pedal', value: 90, unit: '%', comparison: '>=', source: CP, about: 'relative pedal that is full load' },
  {
    name: 'engineSpeed',
    value: 60,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'engine speed as a share of the rev limit of the profile, at the same time',
  },
  {
    name: 'watch',
    value: 15,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'share of the moving time at full load and high revs',
  },
  { name: 'deceleration', value: 6, unit: 'm/s2', comparison: '>', source: CP, about: 'braking that is hard' },
  { name: 'brakings', value: 1, unit: '1', comparison: '>=', source: CP, about: 'and hard brakings per km' },
];

export const severity = defineRule({
  id: 'usage.severity',
  system: 'usage',
  question: 'Was it driven as on a circuit?',
  why: 'An hour on a circuit ages engine oil, transmission fluid, brakes, clutches and tyres like months on the road.',
  weight: 1,
  needs: {
    channels: [],
    optional: ['vehicleSpeed', 'wheelSpeed', 'engineSpeed', 'pedalPosition', 'longitudinalAcceleration'],
    derived: [ACCELERATION, BRAKING, PEDAL_RELATIVE, ROW_SECONDS, SAMPLES, SPEED, TRIP],
    conditions: [`driving for >= ${LONG_ENOUGH / 60} min`],
  },
  limits,
  method:
    'Two signs have to agree over at least ten minutes of movement: the share of the moving time with the pedal near the floor and the engine in the upper part of its range (rev limit of the profile), and hard brakings per kilometre. ' +
    'A drive that long is judged by itself, shorter ones of the same car together. Gaps count for nothing. A braking is hard when its deceleration surely is beyond the limit for 0.3 s and two fresh samples. Either sign below its limit clears; a watch at most, because past use cannot be repaired.',
  decoys: [
    'motorway climbs and towing: full load for minutes, but no hard brakings',
    'an emergency stop or town traffic: brakings, but no full load',
    'a brisk overtaking: over too soon to be a share of ten minutes',
    'kerbs and potholes in an acceleration sensor: shorter than a braking',
  ],
  cautions: ['Full-load driving only on a closed course or within the law.'],
  proves:
    'Ten minutes or more of the driving in question, with pedal, engine speed and vehicle speed (or wheel speeds) at 2 Hz or faster, and engine.revLimit in the vehicle profile; for the past, ask for circuit invoices and look at brakes and tyres.',
  observe(view, context) {
    const speed = view.derive(SPEED);
    if (isRefusal(speed)) return speed;
    const trip = view.derive(TRIP);
    if (isRefusal(trip)) return trip;
    const seconds = view.derive(ROW_SECONDS);
    if (isRefusal(seconds)) return seconds;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const pedal = view.derive(PEDAL_RELATIVE);
    const acceleration = view.derive(ACCELERATION);
    const brakings = view.derive(BRAKING);
    const { revLimit } = view.vehicle.engine;
    const read = [
      view.optional('vehicleSpeed') ?? view.family('wheelSpeed')[0],
      view.family('pedalPosition')[0],
      view.optional('engineSpeed'),
    ];
    return {
      reading: readSeverity({
        time: view.time,
        seconds,
        speed,
        distance: trip.distance - trip.bridged,
        pedal: isRefusal(pedal) ? undefined : pedal,
        pedalHz: isRefusal(pedal) ? Number.NaN : samples.hz(pedal.source),
        engineSpeed: samples.held('engineSpeed'),
        revLimit,
        acceleration: isRefusal(acceleration) ? undefined : acceleration,
        brakings: isRefusal(brakings) ? undefined : brakings,
        limits: context.limits(),
      }),
      lacking: [
        ...(isRefusal(pedal) ? ['pedalPosition'] : []),
        ...(view.optional('engineSpeed') === undefined ? ['engineSpeed'] : []),
      ],
      revLimitKnown: revLimit !== undefined,
      channels: read.flatMap((channel) => (channel === undefined ? [] : [channel])),
    };
  },
  judge: judgeSeverity,
});
