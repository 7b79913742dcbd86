import { GEAR } from '../../derived/gear-shifts.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { isRefusal } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { SELECTIONS } from '../../derived/selections.js';
import { SPEED } from '../../derived/speed.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { COLD, judgeSelection, LEAST, NEEDED } from './selection-judgement.js';
import { firstGears } from './selection-starts.js';

function limit(name: string, value: number, unit: string, comparison: '>' | '>=', about: string): LimitDefinition {
  return { name, value, unit, comparison, source: 'common practice, no source', about };
}

export const selection = defineRule({
  id: 'transmission.selection',
  system: 'transmission',
  question: 'Does it take D and R cleanly at standstill?',
  why: 'Slow or lost engagement at standstill is the first sign of lost pressure, worn forks and stuck valves, and costs nothing to test.',
  weight: 2,
  needs: {
    channels: ['selector', 'gear'],
    optional: [
      'brakeSwitch',
      'transmissionOilTemperature',
      'coolantTemperature',
      'ambientTemperature',
      'gearTarget',
      'driveMode',
      'pedalPosition',
      'engineSpeed',
      'vehicleSpeed',
      'wheelSpeed',
    ],
    derived: [SELECTIONS, SPEED, GEAR, PEDAL_RELATIVE],
    conditions: [`>= ${LEAST} selections each of D and R at standstill, brake pressed, fluid >= ${COLD} °C`],
  },
  limits: [
    limit('watch', 1.5, 's', '>', 'selector to engaged gear, median of D or R'),
    limit('repair', 3, 's', '>', 'selector to engaged gear, median of D or R'),
    limit('drop-repair', 0.5, 's', '>=', 'gear let go at standstill with the selector left alone'),
    limit('drop-stop', 2, 's', '>=', 'gear let go at standstill with the selector left alone'),
    limit(
      'second',
      1,
      '1',
      '>=',
      'starts from standstill in second gear: watch; repair when first gear was wanted or is used at other starts; stop when it never comes',
    ),
    limit(
      'rest',
      1.5,
      's',
      '>',
      'first engagement after a long rest beyond the later ones, and more than twice them: watch',
    ),
  ],
  method:
    'Each move of the selector to D or R at standstill is timed until the gear column shows the gear. Both are known to their rows only, so each delay lies between two bounds: a finding takes the median of the lower bounds of at least three, D and R apart. A gear that goes away and comes back while the car stands and the selector is left alone is a drop-out; at a halt that the car drove up to only with a recorded brake that stays pressed, and a single one there is a watch. Starts from standstill are looked at for second gear in place of first. The first engagement of a drive that began cold is compared with the later ones.',
  decoys: [
    'cold fluid: selections below 20 °C stay out',
    'rolling: only below 3 km/h; starts count after standing still for more than a second',
    'winter and eco modes start in second gear on purpose: those starts stay out',
    'brake not pressed: gearboxes wait for it, those selections stay out',
    'standstill decoupling and automatic hold: they follow the brake; a drop-out comes and goes with the brake unchanged',
    'a column that shows the gear held ready: names gears in P and N too, then nothing is timed',
    'coding of reverse as -1, 14 or 15: all read as reverse',
    'slow logs: delays are bounded by rows and refresh, a wide bound is no finding; drop-outs need 4 values a second',
  ],
  cautions: ['Selector test: foot brake pressed, clear space in front and behind, nobody near the car.'],
  proves: `With warm fluid and the foot brake pressed, move the selector N-D-N-R at least ${LEAST} times, three seconds in each place, with selector and gear recorded at ${NEEDED} Hz or faster.`,
  notApplicable: (vehicle) =>
    vehicle.transmission.kind === 'manual' ? 'A manual gearbox has no selector that engages a drive.' : undefined,
  observe(view) {
    const selections = view.derive(SELECTIONS);
    if (isRefusal(selections)) return selections;
    const speed = view.derive(SPEED);
    const gear = view.derive(GEAR);
    const pedal = view.derive(PEDAL_RELATIVE);
    const held = (channel: Channel | undefined): Float64Array | undefined =>
      channel === undefined ? undefined : heldValues(channel.values, view.time);
    const fluid = held(view.optional('transmissionOilTemperature'));
    const starts =
      isRefusal(speed) || isRefusal(gear)
        ? { inFirst: [], inSecond: [], requested: 0, hard: 0 }
        : firstGears({
            time: view.time,
            speed: speed.values,
            gear,
            selector: held(view.channel('selector'))!,
            target: held(view.optional('gearTarget')),
            pedal: isRefusal(pedal) ? undefined : pedal.values,
            mode: held(view.optional('driveMode')),
            fluid,
          });
    return {
      selections,
      starts,
      rested: restedBy([fluid, held(view.optional('coolantTemperature'))], held(view.optional('ambientTemperature'))),
      channels: [view.channel('selector'), view.channel('gear')].map(({ certainty }) => ({ certainty })),
    };
  },
  judge: judgeSelection,
});

/** A car that rested for hours: fluid and coolant begin within 6 K of each other (and of ambient), below 40 degC. */
function restedBy(warmth: readonly (Float64Array | undefined)[], ambient: Float64Array | undefined): boolean {
  const begin = [...warmth, ambient].map((values) => values?.find((x) => !Number.isNaN(x)) ?? Number.NaN);
  const [fluid, coolant, air] = begin;
  if (Number.isNaN(fluid) || Number.isNaN(coolant)) return false;
  return Math.abs(fluid! - coolant!) <= 6 && coolant! < 40 && !(Math.abs(coolant! - air!) > 6);
}
