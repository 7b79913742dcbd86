import { GEAR_KNOWLEDGE } from '../../derived/gear-knowledge.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { SPEED } from '../../derived/speed.js';
import { WARM } from '../../derived/warm.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule } from '../rule.js';
import { judgeCoverage } from './gear-coverage-judgement.js';
import { CHANCE, coverageOf } from './gear-coverage-reading.js';

/** Pedal (% of travel) up to which a drive is light. */
const LIGHT = 35;
/** Pedal (% of travel) from which gears are skipped on purpose. Common practice, no source. */
const HARD = 60;
/** Codes (channel catalogue): selector D; modes sport, race and individual; shifting sport and manual. */
const DRIVE = 3;
const SPORTY = [2, 3, 4];

export const gearCoverage = defineRule({
  id: 'transmission.gear-coverage',
  system: 'transmission',
  question: 'Does it use every forward gear, and reverse?',
  why: 'A control unit that has lost a gear, or half of a dual clutch, drives on without it: in traffic nobody notices.',
  weight: 3,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'gear',
      'vehicleSpeed',
      'wheelSpeed',
      'selector',
      'driveMode',
      'transmissionMode',
      'pedalPosition',
      'coolantTemperature',
    ],
    derived: [GEAR_KNOWLEDGE, PEDAL_RELATIVE, SPEED, WARM],
    conditions: [
      `warm drive in D through every gear, light load, >= ${CHANCE} s each`,
      'vehicle profile with transmission.gears',
    ],
  },
  limits: [
    {
      name: 'watch',
      value: 3,
      unit: '1',
      comparison: '>=',
      source: 'common practice, no source',
      about: 'chances that a gear let pass, each of ten seconds or more, in D, warm, at light load',
    },
    {
      name: 'stop',
      value: 3,
      unit: '1',
      comparison: '>=',
      source: 'common practice, no source',
      about: 'speed ranges passed in one gear only, or without any odd or any even gear',
    },
  ],
  method:
    'Gears are counted from the gear column, else from engine over road speed with the ratios of the profile. A gear that was not used had a chance when, at light load in D with a warm engine, the engine would still have turned briskly in it, or when a lower and a higher gear were used within one stretch, without kick-down, and no second passed between them in which it may have been used unseen. All odd or all even gears missing, or one gear only, although they had their chances and the speed passes the ranges of several gears, is half a gearbox or limp mode.',
  decoys: [
    'manual or sport shifting: those rows give no chance',
    'gears passed within a second: a slow log does not see them, so that is no chance',
    'skipped gears: kick-downs do not count, a chance takes ten seconds of light driving, and several of them',
    'short trips, town only: too few chances, unproven',
    'cold engine: gears are held back by design, gives no chance',
    'a manual gearbox: its driver chooses, a gear not used is no finding',
  ],
  cautions: ['Motorway gears within the law and the traffic.'],
  proves:
    'Ten minutes of gentle driving in D with a warm engine, from standstill up to motorway speed, and once in reverse, with engine speed, road speed and the gear recorded.',
  observe(view) {
    const { gears } = view.vehicle.transmission;
    if (gears === undefined) {
      return refuse('how many gears it has is not known', { conditions: ['vehicle profile with transmission.gears'] });
    }
    const knowledge = view.derive(GEAR_KNOWLEDGE);
    if (isRefusal(knowledge)) return knowledge;
    const speed = view.derive(SPEED);
    if (isRefusal(speed)) return refuse(`gears without a road speed: ${speed.reason}`, speed.missing);
    const held = (channel: Channel | undefined): Float64Array | undefined =>
      channel === undefined ? undefined : heldValues(channel.values, view.time);
    const warm = view.derive(WARM);
    const pedal = view.derive(PEDAL_RELATIVE);
    const [selector, mode, shifting] = [
      view.optional('selector'),
      view.optional('driveMode'),
      view.optional('transmissionMode'),
    ].map(held);
    const rows = view.time.length;
    const free = new Uint8Array(rows);
    const light = new Uint8Array(rows);
    const hard = new Uint8Array(rows);
    for (let i = 0; i < rows; i++) {
      const automatic = (selector === undefined || selector[i] === DRIVE) && !((shifting?.[i] ?? 0) >= 1);
      if (automatic && !SPORTY.includes(mode?.[i] ?? 0) && !isRefusal(warm) && warm.mask[i] === 1) free[i] = 1;
      if (!isRefusal(pedal) && pedal.values[i]! <= LIGHT) light[i] = 1;
      if (!isRefusal(pedal) && pedal.values[i]! > HARD) hard[i] = 1;
    }
    const engine = held(view.channel('engineSpeed'))!;
    const seen = coverageOf({
      time: view.time,
      gear: knowledge.gear,
      engine,
      speed: speed.values,
      free,
      light,
      hard,
      gears,
    });
    const used = [view.channel('engineSpeed'), view.optional('gear')];
    return {
      ...seen,
      source: knowledge.source,
      hz: rows > 1 ? (rows - 1) / (view.time[rows - 1]! - view.time[0]!) : Number.NaN,
      channels: used.flatMap((channel) => (channel === undefined ? [] : [{ certainty: channel.certainty }])),
    };
  },
  judge: judgeCoverage,
});
