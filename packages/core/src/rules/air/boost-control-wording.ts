import type { BoostResponse } from '../../derived/boost-dynamics.js';
import { levelOf } from '../ladder.js';
import type { Limit, RuleEvent } from '../rule.js';
import { clockTime, figure } from '../wording.js';

export type Kind = 'overshoot' | 'over' | 'short' | 'swing';

/** One deviation of one pull. */
export interface Told {
  readonly kind: Kind;
  readonly input: number;
  readonly pull: number;
  readonly value: number;
  readonly u: number;
  readonly from: number;
  readonly to: number;
  readonly response: BoostResponse;
}

/** Limit family of each kind. */
const FAMILY: Readonly<Record<Kind, string>> = {
  overshoot: 'overshoot',
  over: 'steady',
  short: 'steady',
  swing: 'swing',
};

export const CAUSES: Readonly<Record<Kind, readonly string[]>> = {
  overshoot: [
    'wastegate or its actuator opens late: preload too high, rod binding, diaphragm or hose leaking',
    'control settings that do not fit the turbocharger or the wastegate spring',
    'wastegate too small for the exhaust that was fitted',
  ],
  over: [
    'wastegate does not open far enough: stuck flap, control hose off or split',
    'pressure signal to the actuator tapped or bled on purpose',
  ],
  short: [
    'charge air escapes: hose, clamp, cooler, dump valve',
    'wastegate does not close, actuator or control valve worn',
    'restriction: clogged filter, crushed intake, blocked exhaust or catalyst',
    'worn turbocharger',
  ],
  swing: [
    'control settings too sharp for the actuator',
    'play in the wastegate linkage, sticking actuator or control valve',
    'dump valve that opens and closes under load',
  ],
};

const HOSES = 'Look at hoses and clamps of the charge pipes and of the boost control valve, then smoke-test them.';
const ROD =
  'Move the wastegate rod by hand or hand pump with the engine cold and off: free, full travel, holds vacuum or pressure?';
export const ADVICE: Readonly<Record<Kind, readonly string[]>> = {
  overshoot: [
    ROD,
    'Set the preload of the actuator to its specification.',
    'Have the boost control map checked against the hardware.',
  ],
  over: [ROD, HOSES, 'Do not drive at full load until boost is under control.'],
  short: [
    HOSES,
    ROD,
    'Compare actuator duty, air mass and mixture in the same pulls.',
    'Measure the restriction of the intake and the exhaust.',
  ],
  swing: [ROD, HOSES, 'Have the boost control settings checked.'],
};

/** One sentence: what, how much, when, limit. */
export function sentenceOf(lead: Told, limit: Limit): string {
  const at = clockTime(lead.from);
  const value = figure(lead.value, 0);
  const told = `(limit ${figure(limit.value)} kPa)`;
  switch (lead.kind) {
    case 'overshoot':
      return `Boost overshot its target by ${value} kPa or more in two pulls, among others at ${at} ${told}`;
    case 'over':
      return `Settled boost stood ${value} kPa over its target from ${at} ${told}`;
    case 'short':
      return `Settled boost stayed ${value} kPa under its target from ${at} with the throttle open ${told}`;
    case 'swing':
      return `Boost swung by ${value} kPa to either side at ${figure(lead.response.swing.frequency)} Hz from ${at} ${told}`;
  }
}

/** What exceeded a limit, in the order of time; an overshoot that stood alone is none. */
export function eventsOf(
  all: Readonly<Record<Kind, readonly Told[]>>,
  limits: Readonly<Record<string, Limit>>,
  needed: number,
): RuleEvent[] {
  return (Object.keys(all) as Kind[])
    .flatMap((kind) => {
      const beyond = all[kind].flatMap((each) => {
        const severity = levelOf(each.value, each.u, limits, FAMILY[kind]);
        return severity === undefined ? [] : [{ each, severity }];
      });
      if (kind === 'overshoot' && beyond.length < needed) return [];
      return beyond.map(({ each, severity }) => ({
        input: each.input,
        from: each.from,
        to: each.to,
        severity,
        kind,
        peak: { value: each.value, unit: 'kPa' },
        target: { value: each.response.target, unit: 'kPa' },
      }));
    })
    .sort((a, b) => a.input - b.input || a.from - b.from);
}
