import { CLUTCH_SLIP } from '../../derived/clutch-slip.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { type Certain, judgeSlip } from './clutch-slip-judgement.js';
import { LASTS, RATES, readSlip } from './clutch-slip-reading.js';

const CP = 'common practice, no source';
const shafts = { basis: 'shafts' } as const;
const wheels = { basis: 'wheels' } as const;
const limit = (
  name: string,
  value: number,
  unit: string,
  about: string,
  when: Readonly<Record<string, string>>,
): LimitDefinition => ({ name, value, unit, comparison: '>', source: CP, about, when });

export const clutchSlip = defineRule({
  id: 'transmission.clutch-slip',
  system: 'transmission',
  question: 'Do the clutches hold under load, and which one does not?',
  why: 'A clutch that slips under load burns itself and its fluid within days, and at first neither noise nor feel shows it.',
  weight: 3,
  slow: true,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'inputShaftSpeed',
      'outputShaftSpeed',
      'gear',
      'wheelSpeed',
      'vehicleSpeed',
      'axleSpeed',
      'gpsSpeed',
      'engineTorque',
      'converterClutchState',
      'clutchSwitch',
    ],
    derived: [CLUTCH_SLIP, LOAD_FRACTION],
    conditions: ['full-load pull in gear 3 or above, where it is lawful and safe, and overrun in the same gear'],
  },
  limits: [
    limit('watch', 3, '%', 'slip of the input speed, by shaft speeds', shafts),
    limit('watch-speed', 100, 'rpm', 'and no less than this speed', shafts),
    limit('repair', 6, '%', 'slip of the input speed, by shaft speeds, in at least two events', shafts),
    limit('repair-speed', 200, 'rpm', 'and no less than this speed', shafts),
    limit('stop', 12, '%', 'slip of the input speed, by shaft speeds', shafts),
    limit('watch', 5, '%', 'slip of the engine against the wheels', wheels),
    limit('repair', 8, '%', 'slip of the engine against the wheels, in at least two events', wheels),
    limit('stop', 15, '%', 'slip of the engine against the wheels', wheels),
  ],
  method:
    'Input speed less output speed of the clutch that carries, in a settled gear, under load, at least half a second from any shift: by the shaft of each clutch, else by the output shaft, else by the driven wheels, with the ratio of each gear learned on overrun. The delay between the two speeds is estimated and taken out. ' +
    'A slip counts when the lower 95 % bound stays beyond the limit for a second; it must be at least twice the slip at light load. Repair takes two events; a single one stays a watch. ' +
    'Without a gear column a slip that lasts the whole gear looks like one more gear: a second and more under load at a steady ratio between two gears leaves the question open.',
  decoys: [
    'late road speed: the lag of the pair is estimated and taken out, what is left of it widens the uncertainty',
    'road speed in steps of 1 km/h: its step is part of the uncertainty',
    'tyres slip 2 to 6 % under load: the driven wheels or the output shaft are used; with road speed alone the limits are wider and count from third gear',
    'slip on purpose of 20 to 80 rpm at part load: below the speed limit',
    'hand-over from one clutch to the other: shifts and half a second around them are left out',
    'pulling away and launches: from rest or a crawl a clutch slips until both its sides first run together; only from there on it counts',
    'open converter: the turbine speed is the input; without it only stretches with a closed converter clutch count',
    'a wrong ratio or tooth count: it is there without load as well',
  ],
  cautions: [
    'Full-load pulls only where the law and the road allow them, with warm fluid.',
    'Stop at a burning smell: a slipping clutch destroys itself quickly.',
  ],
  proves:
    'One full-load pull in third gear or above followed by overrun in the same gear, with engine speed and clutch shaft speeds (or wheel speeds) at 5 Hz or more, and engine torque or calculated load.',
  observe(view, context) {
    const data = view.derive(CLUTCH_SLIP);
    if (isRefusal(data)) return data;
    const load = view.derive(LOAD_FRACTION);
    if (isRefusal(load)) return refuse(`no load to judge slip under: ${load.reason}`, load.missing);
    if (!(data.hz >= 0.95 * RATES[data.basis]))
      return refuse(`slip of ${LASTS} s cannot be told from ${data.hz.toPrecision(2)} values a second`, {
        conditions: [`engineSpeed and ${data.channels[1]} at >= ${RATES[data.basis]} Hz`],
      });
    const { kind } = view.vehicle.transmission;
    const blind = data.channels[0] === 'engineSpeed' && data.clutch.size === 0;
    const state = view.optional('converterClutchState');
    const pedal = view.optional('clutchSwitch');
    const loaded = load.loaded.slice();
    // An open converter slips by nature, and nobody said that there is none.
    if (blind && kind === 'converter' && state === undefined)
      return refuse('an open converter looks like a slipping clutch without the turbine speed', {
        channels: ['inputShaftSpeed'],
      });
    if (pedal !== undefined && !pedal.quality.constant) {
      const held = heldValues(pedal.values, view.time);
      for (let i = 0; i < loaded.length; i++) if (held[i]! > 0) loaded[i] = 0;
    }
    const limits = context.limits({ basis: data.basis });
    const certain: Certain[] = data.channels.flatMap((id) => view.optional(id as 'engineSpeed') ?? []);
    return {
      ...readSlip(data, view.time, loaded, load.high, load.cruiseLow, limits),
      basis: data.basis,
      source: data.source,
      hz: data.hz,
      /** The kind of gearbox is not known and no turbine speed tells a converter apart. */
      doubtful: blind && kind === undefined && state === undefined,
      certain,
    };
  },
  judge: judgeSlip,
});
