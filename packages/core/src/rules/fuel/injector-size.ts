import { INJECTOR_FLOW, type InjectorFlow } from '../../derived/injector-flow.js';
import { isRefusal, type Refusal } from '../../derived/recipe.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Observed } from '../rule.js';
import { figure } from '../wording.js';

const CONDITION = 'steady idle, cruise and acceleration at part load, warm, with air mass, lambda and injection time';

interface SizeObservation {
  readonly found: InjectorFlow;
  readonly channels: readonly Channel[];
}

export const injectorSize = defineRule({
  id: 'fuel.injector-size',
  system: 'fuel',
  question: 'Which injectors are really fitted?',
  why: 'Injectors of another size than claimed mean another power limit, another map, or a story that does not hold.',
  weight: 1,
  needs: {
    channels: ['injectionTime', 'engineSpeed'],
    optional: [
      'airMassFlow',
      'airMassPerStroke',
      'engineLoadAbsolute',
      'lambda',
      'fuelRailPressure',
      'fuelFeedPressure',
      'manifoldPressure',
      'ethanolContent',
    ],
    derived: [INJECTOR_FLOW],
    conditions: [CONDITION, 'vehicle profile with claims.injectors, engine.cylinders and engine.displacement'],
  },
  limits: [
    {
      name: 'floor',
      value: 0.12,
      unit: '1',
      comparison: '>',
      source: 'common practice, no source',
      about: 'half-width of the interval at least, share of the measured flow; a claim outside the interval is a watch',
    },
    {
      name: 'floor-rescaled',
      value: 0.25,
      unit: '1',
      comparison: '>',
      source: 'common practice, no source',
      about: 'the same where the air meter could not be checked and may have been rescaled',
    },
  ],
  method:
    'Fuel mass of one injection (air mass over lambda and the stoichiometric ratio of the fuel) against opening time: the slope of the line is the flow, its intercept the opening delay. Fuel mass is brought to the reference pressure drop by the orifice law (300 kPa port, 10 MPa direct, or the pressure of the claim). The air meter is checked by the filling that it gives the engine. Petrol, E10 and E85 by the profile or the content channel.',
  decoys: [
    'rail pressure that moves with load, and regulators that work against the manifold: the pressure drop over the injector counts',
    'ethanol: its ratio and density are used',
    'two sets of injectors: the opening time does not follow the fuel; refused',
    'a rescaled air meter: a filling that no engine has widens the interval',
  ],
  cautions: ['Fuel systems hold pressure after switching off: have injectors taken out by a qualified technician.'],
  proves:
    'Ten minutes of mixed driving at steady pedal, warm, with injection time, air mass, lambda, rail pressure, manifold pressure and intake temperature; claims.injectors in the profile.',
  observe(view): SizeObservation | Refusal {
    const found = view.derive(INJECTOR_FLOW);
    if (isRefusal(found)) return found;
    const channels = [view.channel('injectionTime'), view.optional('airMassFlow')].filter((each) => each !== undefined);
    return { found, channels };
  },
  judge,
});

/** @param pressure kPa at which the claimed flow holds; the measured one is brought to it. */
function judge(observed: readonly Observed<SizeObservation>[], context: Context): Judgement {
  const { floor, 'floor-rescaled': rescaled } = context.limits();
  const { injectors: claim, injectorPressure } = context.vehicle.claims;
  // The drive that tells it best leads; the others have to agree with it.
  const seen = observed.map(({ observation }) => observation);
  const best = seen.reduce((a, b) => (width(b.found) < width(a.found) ? b : a));
  const { found } = best;
  const half = Math.max(width(found), (found.meterChecked ? floor! : rescaled!).value);
  const pressure = injectorPressure ?? found.reference;
  const flow = found.flow * Math.sqrt(pressure / found.reference);
  const [low, high] = [flow * (1 - half), flow * (1 + half)];
  const apart = seen.some((each) => each.found.flow < found.low || each.found.flow > found.high);
  const base = {
    measures: {
      flow: { value: found.flow, unit: 'cc/min' },
      flowLow: { value: found.flow * (1 - half), unit: 'cc/min' },
      flowHigh: { value: found.flow * (1 + half), unit: 'cc/min' },
      dead: { value: found.dead, unit: 'ms' },
      reference: { value: found.reference, unit: 'kPa' },
      ...(claim === undefined ? {} : { claim: { value: claim, unit: 'cc/min' } }),
    },
    limits: [found.meterChecked ? floor! : rescaled!],
    notes: [
      ...found.notes,
      ...(found.meterChecked
        ? []
        : [
            'The air meter could not be checked against manifold pressure: it may have been rescaled, so the interval is wider.',
          ]),
      ...(apart ? ['The drives do not agree on the size.'] : []),
    ],
  };
  const told = `about ${figure(flow, 0)} cm³/min at ${figure(pressure / 100, 0)} bar (${figure(low, 0)} to ${figure(high, 0)}), opening delay ${figure(found.dead, 2)} ms`;
  if (claim === undefined)
    return {
      ...base,
      outcome: 'unproven',
      summary: `The injectors flow ${told}. What should be fitted is not known.`,
      missing: { channels: [], conditions: ['vehicle profile with claims.injectors'] },
    };
  const outside = claim < low || claim > high;
  const edge = claim < flow ? low : high;
  const support = {
    margin: Math.abs(claim - edge),
    uncertainty: (flow * half) / 1.96,
    samples: Math.min(50, found.rows),
    channels: best.channels,
    doubts: [apart ? 0.7 : 1],
  };
  if (!outside || apart)
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf(support),
      summary: `The injectors flow ${told}; ${figure(claim, 0)} cm³/min are claimed, ${outside ? 'outside the interval, but the drives do not agree' : 'inside the interval'}.`,
    };
  return {
    ...base,
    outcome: 'finding',
    severity: 'watch',
    confidence: confidenceOf(support),
    summary: `The injectors flow ${told}; ${figure(claim, 0)} cm³/min are claimed, outside the interval.`,
    causes: [
      `${claim < flow ? 'larger' : 'smaller'} injectors than named are fitted`,
      'the name holds at another pressure or for another liquid',
      'fuel pressure differs from what is logged',
      ...(claim > flow ? ['clogged injectors'] : ['leaking injectors']),
    ],
    advice: [
      'Ask for the part number and the pressure at which the flow is named; read it from the injector body.',
      'Set claims.injectorPressure in the profile when the name holds at another pressure.',
      'Measure the fuel pressure; then a flow test.',
    ],
  };
}

function width(found: InjectorFlow): number {
  return (found.high - found.low) / 2 / found.flow;
}
