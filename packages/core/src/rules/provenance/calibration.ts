import { lastValue } from '../../derived/last-value.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import type { Calibration } from '../../recording/read-out.js';
import type { Vehicle } from '../../vehicle/vehicle.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Limit, type LimitDefinition, type Observed } from '../rule.js';
import { counted, figure, listed } from '../wording.js';

const READ =
  'calibration identification and verification number of each control unit, and those that belong in the car in the vehicle profile';
const DERIVED = 'derived: no car is driven so; the counter was set back';

const limits: readonly LimitDefinition[] = [
  {
    name: 'perCycle',
    value: 500,
    unit: 'km',
    comparison: '>',
    source: DERIVED,
    about: 'distance of the car per ignition cycle or engine start counted',
  },
  {
    name: 'averageSpeed',
    value: 130,
    unit: 'km/h',
    comparison: '>',
    source: DERIVED,
    about: 'distance of the car per operating hour counted',
  },
  {
    name: 'differing',
    value: 0,
    unit: '1',
    comparison: '>',
    source: 'derived: a verification number follows from the program',
    about: 'programs that are not those of the profile, or changed between two read-outs',
  },
];

/** Below this distance (km) a counter near zero says nothing. */
const RUN_IN = 5000;

interface Programs {
  readonly calibrations: readonly Calibration[];
  readonly odometer: number;
  readonly cycles: number;
  readonly starts: number;
  /** h */
  readonly hours: number;
}

export const calibration = defineRule({
  id: 'provenance.calibration',
  system: 'provenance',
  question: 'Is the software of the control units the one that belongs in the car?',
  why: 'A changed program changes boost, torque and protection: what it was made for, and by whom, the buyer has to know.',
  weight: 1,
  needs: {
    channels: [],
    optional: ['odometer', 'ignitionCycles', 'engineStartCount', 'operatingHours'],
    derived: [READ_OUT],
    conditions: [READ],
  },
  readOuts: true,
  limits,
  method:
    'Identification and verification number of each program are compared with those of the vehicle profile, and between read-outs. A verification number is computed over the program, so that it differs although the identification is the same when somebody changed the program under its name. Counters that a control unit starts anew when it is programmed are set against the distance of the car: hardly any ignition cycles, starts or hours at a high distance were set back.',
  decoys: [
    'upper and lower case, blanks and separators in identifications: not compared',
    'a low counter in a car that is nearly new',
    'a program of the maker that is newer than the profile: told as different, its origin is asked for',
    'a control unit that was exchanged: named among the causes',
  ],
  cautions: ['Programs that defeat emission control are unlawful on public roads in most places.'],
  proves: `The ${READ}; and ignition cycles, engine starts and operating hours with the odometer.`,
  observe(view) {
    const readOut = view.derive(READ_OUT);
    const last = (id: 'odometer' | 'ignitionCycles' | 'engineStartCount' | 'operatingHours') =>
      lastValue(view.optional(id));
    const programs: Programs = {
      calibrations: isRefusal(readOut) ? [] : readOut.calibrations,
      odometer: last('odometer'),
      cycles: last('ignitionCycles'),
      starts: last('engineStartCount'),
      hours: last('operatingHours'),
    };
    const { calibrations, odometer, cycles, starts, hours } = programs;
    const counters = odometer >= RUN_IN && [cycles, starts, hours].some((x) => !Number.isNaN(x));
    if (calibrations.length === 0 && !counters)
      return refuse('neither programs nor counters of the control units were read out', { conditions: [READ] });
    return programs;
  },
  judge,
});

function judge(observed: readonly Observed<Programs>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const programs = all.flatMap(({ calibrations }) => calibrations);
  const { foreign, matched } = compared(programs, context.vehicle);
  const changed = changedUnderName(all.map(({ calibrations }) => calibrations));
  const low = all.flatMap((each) => lowCounters(each, named));
  const differing = foreign.length + changed.length;
  const base = {
    measures: {
      programs: { value: programs.length },
      matched: { value: matched },
      differing: { value: differing },
      countersLow: { value: low.length },
    },
    limits: Object.values(named),
    details: {
      programs: programs
        .slice(0, 40)
        .map(({ kind, module, text }) => ({ kind, controlUnit: module.slice(0, 60), text: text.slice(0, 60) })),
    },
  };
  if (differing > named.differing!.value || low.length > 0) {
    const said = [
      ...foreign
        .slice(0, 3)
        .map(
          ({ kind, module, text }) =>
            `${kind} ${text.slice(0, 40)}${module === '' ? '' : ` (${module.slice(0, 40)})`} is not the one of the profile`,
        ),
      ...changed
        .slice(0, 3)
        .map(
          ({ module, text }) =>
            `the program${module === '' ? '' : ` of ${module.slice(0, 40)}`} kept its identification ${text.slice(0, 40)} and changed its verification number`,
        ),
      ...low,
    ];
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 19,
        channels: [],
        doubts: [differing > 0 ? 1 : 0.8],
      }),
      summary: `${capital(said.join('; '))}.`,
      causes: [
        'control unit programmed with changed software',
        'control unit exchanged for another one',
        ...(foreign.length > 0 ? ['newer program of the maker'] : []),
      ],
      advice: [
        'Ask for the bill of the programming, what it was made for and whether the original program is kept.',
        'Have the identification looked up by a workshop of the maker.',
        'Judge power, boost, mixture and torque protection by a recording.',
      ],
    };
  }
  if (matched > 0) {
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 9,
        channels: [],
        doubts: [programs.some(({ kind }) => kind === 'verification') ? 1 : 0.7],
      }),
      summary: `${counted(matched, 'program')} as in the profile: ${listed(programs.slice(0, 3).map(({ text }) => text.slice(0, 40)))}.`,
    };
  }
  const read =
    programs.length > 0
      ? `Read: ${listed(programs.slice(0, 4).map(({ kind, text }) => `${kind} ${text.slice(0, 40)}`))}. Which belong in the car is not in the profile.`
      : 'The counters fit the distance; no program was read out.';
  return { ...base, outcome: 'unproven', summary: read, missing: { channels: [], conditions: [READ] } };
}

/** Programs that the profile does not name, of the kinds of which it names some. */
function compared(
  programs: readonly Calibration[],
  { calibration: wanted }: Vehicle,
): { readonly foreign: readonly Calibration[]; readonly matched: number } {
  const foreign: Calibration[] = [];
  let matched = 0;
  for (const each of programs) {
    const list = wanted[each.kind];
    if (list === undefined || list.length === 0) continue;
    if (list.some((text) => plain(text) === plain(each.text))) matched++;
    else foreign.push(each);
  }
  return { foreign, matched };
}

/** Same control unit and identification in two read-outs, other verification number. */
function changedUnderName(readOuts: readonly (readonly Calibration[])[]): readonly Calibration[] {
  const before = new Map<string, string>();
  const changed: Calibration[] = [];
  for (const programs of readOuts) {
    for (const each of programs.filter(({ kind }) => kind === 'identification')) {
      const numbers = programs
        .filter(({ kind, module }) => kind === 'verification' && plain(module) === plain(each.module))
        .map(({ text }) => plain(text));
      if (numbers.length === 0) continue;
      const key = `${plain(each.module)} ${plain(each.text)}`;
      const now = numbers.sort().join(' ');
      const old = before.get(key);
      if (old !== undefined && old !== now) changed.push(each);
      before.set(key, now);
    }
  }
  return changed;
}

function lowCounters({ odometer, cycles, starts, hours }: Programs, named: Readonly<Record<string, Limit>>): string[] {
  if (!(odometer >= RUN_IN)) return [];
  const perCycle = named.perCycle!.value;
  const low: string[] = [];
  if (odometer / Math.max(cycles, 1) > perCycle)
    low.push(`${counted(cycles, 'ignition cycle')} at ${figure(odometer, 0)} km`);
  if (odometer / Math.max(starts, 1) > perCycle)
    low.push(`${counted(starts, 'engine start')} at ${figure(odometer, 0)} km`);
  if (odometer / Math.max(hours, 0.1) > named.averageSpeed!.value)
    low.push(`${figure(hours)} operating hours at ${figure(odometer, 0)} km`);
  return low.map((text) => `${text}: the counter was set back, as programming does`);
}

function plain(text: string): string {
  return text.toLowerCase().replace(/[^a-z0-9]/g, '');
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
