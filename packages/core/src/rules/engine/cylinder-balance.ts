import { exceeds } from '../../derived/exceeds.js';
import { FIRINGS } from '../../derived/firings.js';
import { maskOf } from '../../derived/intervals.js';
import { KNOCK_SIGNAL } from '../../derived/knock-signal.js';
import { MISFIRES, type Misfires } from '../../derived/misfires.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { IDLE } from '../../derived/segments.js';
import { WARM } from '../../derived/warm.js';
import { sum } from '../../math/mean.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { median } from '../../math/quantile.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, SEVERITIES } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, figure } from '../wording.js';
import {
  type Apart,
  FEWEST,
  FRESH,
  pooled,
  type Sign,
  type SignName,
  signOf,
  usualOf,
} from './cylinder-balance-reading.js';
import { adviceOf, causesOf, numbered, signText } from './cylinder-balance-wording.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>',
  source: CP,
  about,
});
const CORRECTION = 'fuel correction of one cylinder less the median of the others';
const EXHAUST = 'exhaust of one cylinder less the median of the others, exhaust hot';
/** Exhaust gas is hot enough for a difference between cylinders to show, degC. Common practice, no source. */
const HOT = 600;
const CONDITIONS = [`warm idle, cruise and load, >= ${FRESH} readings of each`, `>= ${FEWEST} cylinders recorded`];
/** Signs with limits of their own; the others only agree or not. */
const LEADING: readonly SignName[] = ['correction', 'exhaust'];
const NAMES: readonly SignName[] = ['correction', 'exhaust', 'roughness', 'knock', 'misfire'];

export const cylinderBalance = defineRule({
  id: 'engine.cylinder-balance',
  system: 'engine',
  question: 'Does one cylinder or bank differ from the others?',
  why: 'The control unit hides a weak injector, plug or valve by correcting that one cylinder; compared with its neighbours it shows long before the driver feels it.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'injectorCorrection',
      'exhaustGasTemperature',
      'engineRoughness',
      'misfireCount',
      'knockRetard',
      'engineSpeed',
    ],
    derived: [FIRINGS, IDLE, WARM, KNOCK_SIGNAL, MISFIRES],
    conditions: CONDITIONS,
  },
  limits: [
    limit('correction-watch', 5, '%', CORRECTION),
    limit('correction-repair', 10, '%', CORRECTION),
    limit('exhaust-watch', 40, 'K', EXHAUST),
    limit('exhaust-repair', 80, 'K', EXHAUST),
  ],
  method:
    'Each cylinder is compared with the median of the others at the same moment: fuel correction with the engine warm, exhaust temperature while it is hot, roughness at warm idle, knock retard under load, misfires throughout. It stands apart when the difference is beyond three normalised median deviations of the others, and beyond what cylinders of a sound engine differ by. A finding takes fuel correction or exhaust temperature beyond its limit as well; a second sign of the same cylinder makes it one level worse.',
  decoys: [
    'few comparators: at least three cylinders must be recorded',
    'sensors and cylinders that all scatter: the scatter of the others is the yardstick',
    'numbering: the number is that of the control unit, which may count by place or by firing order',
    'a column that names no unit and was read in another one than its neighbours: left out, and said',
    'transients and spikes: medians of differences at the same moment',
    'roughness, knock or misfires alone: no finding here, they have rules of their own or no common scale',
  ],
  cautions: [
    'Coils carry dangerous voltages and the fuel rail a high pressure: parts are swapped with everything off and depressurised.',
  ],
  proves:
    'Five minutes warm with idle, cruise and one passage under load, fuel correction or exhaust temperature of every cylinder recorded.',
  observe(view) {
    const { time } = view;
    const warm = view.derive(WARM);
    const firings = view.derive(FIRINGS);
    const wanted = isRefusal(firings) ? undefined : firings.wanted;
    const settled = (i: number): boolean =>
      (isRefusal(warm) || warm.mask[i] === 1) && (wanted === undefined || wanted[i] === 1);
    const idle = view.derive(IDLE);
    const idling = isRefusal(idle) ? undefined : maskOf(idle, time.length);
    const knock = view.derive(KNOCK_SIGNAL);
    const knocks = isRefusal(knock) ? [] : view.family('knockRetard');
    const signs = [
      signOf('correction', view.family('injectorCorrection'), time, (_v, i) => settled(i)),
      signOf(
        'exhaust',
        view.family('exhaustGasTemperature'),
        time,
        (values, i) => settled(i) && median(values.map((v) => v[i]!)) >= HOT,
      ),
      signOf('roughness', view.family('engineRoughness'), time, (_v, i) => settled(i) && idling?.[i] === 1),
      signOf('knock', knocks, time, (_v, i) => !isRefusal(knock) && knock.eligible[i] === 1, true),
      misfireSign(view.derive(MISFIRES), time),
    ].flatMap((sign) => sign ?? []);
    if (signs.length === 0)
      return refuse('nothing is recorded of enough cylinders one by one, or not for long enough', {
        channels: ['injectorCorrection', 'exhaustGasTemperature'],
        conditions: CONDITIONS,
      });
    return signs;
  },
  judge,
});

/** Misfires of each cylinder in % of its own firings, from one per mille and ten of them on. */
function misfireSign(misfires: Misfires | Refusal, time: Float64Array): Sign | undefined {
  if (isRefusal(misfires) || misfires.basis !== 'cylinders' || misfires.columns.length < FEWEST) return undefined;
  const firings = sum(misfires.revolutions) / 2;
  if (!(firings >= 500)) return undefined;
  const rates = misfires.columns.map(({ count }) => (100 * count) / firings);
  const cylinders = misfires.columns.map(({ cylinder, count }, c): Apart => {
    const others = rates.filter((_r, k) => k !== c);
    return {
      cylinder: cylinder!,
      value: rates[c]! - median(others),
      // A count scatters by its own root (Poisson).
      u: (100 * Math.sqrt(Math.max(count, 1))) / firings,
      usual: Math.max(usualOf('misfire', others), 1000 / firings),
    };
  });
  return {
    name: 'misfire',
    doubtful: [],
    channels: misfires.columns.map(({ channel }) => channel),
    cylinders,
    samples: Math.round(firings),
    from: time[0]!,
    to: time[time.length - 1]!,
  };
}

function doubts(signs: readonly Sign[]): string[] {
  const cylinders = [...new Set(signs.flatMap(({ doubtful }) => doubtful))].sort((a, b) => a - b);
  return cylinders.length === 0
    ? []
    : [
        `Left out: ${numbered(cylinders)}, whose column names no unit and would be read in another one than the others; state the unit in a map file.`,
      ];
}

interface Verdict {
  readonly cylinder: number;
  /** Signs by which it stands apart, with their values. */
  readonly signs: ReadonlyMap<SignName, number>;
  readonly leading: { readonly name: SignName; readonly apart: Apart; readonly severity: Severity } | undefined;
  readonly severity: Severity | undefined;
}

function judge(observed: readonly Observed<readonly Sign[]>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ observation }) => observation);
  const table = new Map(
    NAMES.map((name) => [
      name,
      pooled(
        name,
        all.filter((sign) => sign.name === name),
      ),
    ]),
  );
  const led = LEADING.filter((name) => table.get(name)!.length > 0);
  const numbers = [...new Set([...table.values()].flat().map(({ cylinder }) => cylinder))].sort((a, b) => a - b);
  const verdicts = numbers.map((cylinder): Verdict => {
    const signs = new Map<SignName, number>();
    let leading: Verdict['leading'];
    for (const name of NAMES) {
      const apart = table.get(name)!.find((each) => each.cylinder === cylinder);
      if (apart === undefined || !(Math.abs(apart.value) - ONE_SIDED_95 * apart.u > apart.usual)) continue;
      signs.set(name, apart.value);
      const severity = LEADING.includes(name) ? levelOf(Math.abs(apart.value), apart.u, named, name) : undefined;
      if (severity !== undefined && rankOf(severity) > rankOf(leading?.severity)) leading = { name, apart, severity };
    }
    const up = leading === undefined ? -1 : SEVERITIES.indexOf(leading.severity) + (signs.size >= 2 ? 1 : 0);
    return { cylinder, signs, leading, severity: SEVERITIES[Math.min(2, up)] };
  });
  const furthest = (name: SignName): number =>
    table.get(name)!.reduce((a, { value }) => (Math.abs(value) > Math.abs(a) ? value : a), 0);
  const found = verdicts.filter(({ severity }) => severity !== undefined);
  const base = {
    measures: {
      ...(led.includes('correction') ? { correction: { value: furthest('correction'), unit: '%' } } : {}),
      ...(led.includes('exhaust') ? { exhaust: { value: furthest('exhaust'), unit: 'K' } } : {}),
      cylinders: { value: found.map(({ cylinder }) => cylinder) },
    },
    limits: Object.values(named).filter(({ name }) => led.some((each) => name.startsWith(each))),
    notes: [
      ...doubts(all),
      ...verdicts.flatMap(({ cylinder, signs, leading }) =>
        leading === undefined && signs.size > 0
          ? [
              `Cylinder ${cylinder} stands apart within the limits: ${[...signs].map(([name, x]) => signText(name, x)).join(', ')}.`,
            ]
          : [],
      ),
    ],
    details: {
      signs: Object.fromEntries(
        [...table]
          .filter(([, rows]) => rows.length > 0)
          .map(([name, rows]) => [name, rows.map(({ cylinder, value, u, usual }) => ({ cylinder, value, u, usual }))]),
      ),
    },
  };
  const channels = all.filter(({ name }) => led.includes(name)).flatMap((sign) => sign.channels);
  const worst = found.reduce<Verdict | undefined>(
    (a, b) => (rankOf(b.severity) > rankOf(a?.severity) ? b : a),
    undefined,
  );
  if (worst?.leading === undefined || worst.severity === undefined) return calm(base, led, table, named, all, channels);
  const { name, apart, severity: own } = worst.leading;
  const bound = limitOf(named, own, name);
  // Half of the cylinders against the other half: each is apart from the median of the rest.
  const group = found.length > numbers.length / 2;
  const same = found.filter(({ signs }) => Math.sign(signs.get(name) ?? 0) === Math.sign(apart.value));
  const shown = (group ? same : found).map(({ cylinder }) => cylinder);
  const few = numbers.length === FEWEST;
  return {
    ...base,
    outcome: 'finding',
    severity: worst.severity,
    confidence: confidenceOf({
      margin: Math.abs(apart.value) - bound.value,
      uncertainty: apart.u,
      samples: all.filter((sign) => sign.name === name).reduce((total, { samples }) => total + samples, 0),
      channels,
      doubts: [few ? 0.7 : 1, group ? 0.8 : 1],
    }),
    events: observed.flatMap(({ input, observation }) =>
      observation.flatMap(({ name: each, from, to, cylinders }) =>
        each === name
          ? [
              {
                input,
                from,
                to,
                severity: worst.severity!,
                peak: {
                  value: cylinders.find(({ cylinder }) => cylinder === worst.cylinder)?.value ?? Number.NaN,
                  unit: bound.unit,
                },
                cylinder: worst.cylinder,
              },
            ]
          : [],
      ),
    ),
    summary: group
      ? `Two groups of cylinders: ${numbered(shown)} against the others, ${signText(name, apart.value)} (limit ${figure(bound.value, 0)} ${bound.unit}).`
      : `${cap(numbered([worst.cylinder]))} differs from the others: ${[...worst.signs].map(([sign, x]) => signText(sign, x)).join(', ')} (limit ${figure(bound.value, 0)} ${bound.unit}${worst.signs.size > 1 ? '; several signs agree, one level worse' : ''}), from ${clockTime(Math.min(...all.map(({ from }) => from)))} on.`,
    causes: causesOf(worst.signs, group),
    advice: adviceOf(shown, group, worst.severity === 'stop'),
  };
}

function calm(
  base: Pick<Judgement, 'measures' | 'limits' | 'notes' | 'details'>,
  led: readonly SignName[],
  table: ReadonlyMap<SignName, readonly Apart[]>,
  named: Parameters<typeof levelOf>[2],
  all: readonly Sign[],
  channels: Sign['channels'],
): Judgement {
  const [name] = led;
  if (name === undefined)
    return {
      ...base,
      outcome: 'unproven',
      summary: 'Neither fuel correction nor exhaust temperature of the single cylinders is recorded for long enough.',
      missing: { channels: ['injectorCorrection', 'exhaustGasTemperature'], conditions: [] },
    };
  const rows = led.flatMap((each) =>
    table.get(each)!.map((apart) => ({ each, apart, bound: limitOf(named, 'watch', each) })),
  );
  const closest = rows.reduce((a, b) => (share(b) > share(a) ? b : a));
  const { each, apart, bound } = closest;
  const near = exceeds(Math.abs(apart.value), apart.u, bound.value, '>') === 'near' ? ', near the limit' : '';
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: bound.value - Math.abs(apart.value),
      uncertainty: apart.u,
      samples: all.filter((sign) => sign.name === each).reduce((total, { samples }) => total + samples, 0),
      channels,
    }),
    summary: `The cylinders agree: furthest from the others is ${numbered([apart.cylinder])} with ${signText(each, apart.value)} (limit ${figure(bound.value, 0)} ${bound.unit})${near}.`,
  };
}

function share({ apart, bound }: { readonly apart: Apart; readonly bound: { readonly value: number } }): number {
  return Math.abs(apart.value) / bound.value;
}

function cap(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}
