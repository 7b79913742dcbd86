import { isRefusal, refuse } from '../../derived/recipe.js';
import { SHIFT_EVENTS } from '../../derived/shift-events.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { FINE_HZ, judgeShifts } from './shift-quality-judgement.js';
import { LIKE } from './shift-quality-reading.js';

const CP = 'common practice, no source';

function flare(name: string, value: number): LimitDefinition {
  return {
    name,
    value,
    unit: 'rpm',
    comparison: '>',
    source: CP,
    about: 'engine above the old ratio in a power-on upshift',
  };
}

function absolute(kind: string, value: number): LimitDefinition {
  const about = 'duration of a shift, 10 to 90 % of the change of ratio, in three of ten shifts: watch';
  return { name: 'absolute', value, unit: 's', comparison: '>', source: CP, about, when: { kind } };
}

export const shiftQuality = defineRule({
  id: 'transmission.shift-quality',
  system: 'transmission',
  question: 'Does it shift quickly and smoothly?',
  why: 'A clutch that takes over late lets the engine run free, then catches it: each such shift burns the facings, long before anyone feels it.',
  weight: 2,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'vehicleSpeed',
      'wheelSpeed',
      'inputShaftSpeed',
      'gear',
      'pedalPosition',
      'engineTorque',
      'transmissionOilTemperature',
    ],
    derived: [SHIFT_EVENTS],
    conditions: [`>= ${LIKE} shifts with steady pedal and warm fluid`, `engineSpeed at >= ${FINE_HZ} Hz`],
  },
  limits: [flare('watch', 150), flare('repair', 400), absolute('dual-clutch', 0.6), absolute('converter', 1.2)],
  method:
    'A shift is the change from one held ratio to another. Its duration runs from 10 to 90 % of the change of ratio, its flare is the furthest that the shaft runs above the old ratio before it gives way, both with the road speed aligned. Shifts are compared with their like on this car (power on, same direction, pedal within 15 % of its travel): one that takes longer than twice the usual, the usual and three spreads, and the usual and 0.15 s, counts when it is seen twice among at least eight. Where the kind of transmission is known, three shifts in ten beyond an absolute duration count as well. Torque taken back and the dip of acceleration are told with each event. Slow logs show gross faults only.',
  decoys: [
    'lifting off or pressing on in the shift: the pedal has to stay where it was',
    'blip of a downshift: flare is judged in power-on upshifts only',
    'rev limiter: shifts close to the limit stay out',
    'skipped gears, and gears passed by within half a second: stay out',
    'change of mode: compared within direction and with about the same pedal, by the middle of many',
    'coasting to a halt: with the foot off a gearbox shifts as softly as it likes, those shifts stay out',
    'a manual gearbox whose profile does not say so: shifts of half a second and more that let the drive go are not judged',
    'cold fluid: shifts below 40 °C stay out',
    'locked or spinning wheels: no road speed, no shift',
  ],
  cautions: ['Full-load shifts only on a closed course and within the law, with warm fluid.'],
  proves: `Five minutes of driving with steady pedal through all gears, warm, with engine speed recorded at ${FINE_HZ} Hz or faster, wheel speeds and pedal beside it.`,
  notApplicable: (vehicle) =>
    vehicle.transmission.kind === 'manual'
      ? 'The driver shifts a manual gearbox: how quickly is no matter of its health.'
      : undefined,
  observe(view) {
    const shifts = view.derive(SHIFT_EVENTS);
    if (isRefusal(shifts)) return shifts;
    if (view.optional('pedalPosition') === undefined && shifts.events.every(({ power }) => power === 'unknown')) {
      return refuse('whether the driver kept the pedal still is not known, because pedalPosition is absent', {
        channels: ['pedalPosition'],
      });
    }
    const speed = [...view.family('wheelSpeed'), ...view.family('vehicleSpeed')].slice(0, 1);
    return { shifts, channels: [view.channel('engineSpeed'), ...speed].map(({ certainty }) => ({ certainty })) };
  },
  judge: judgeShifts,
});
