import { ethanolFor } from '../../physics/fuel.js';
import { figure } from '../wording.js';
import type { Cell, Regime } from './trim-cells.js';

export type Shape =
  | 'at idle'
  | 'growing with load'
  | 'everywhere'
  | 'in one regime'
  | 'lean at idle and rich under load';

/** How the trims lie: in which direction, where, and on which banks. */
export interface Pattern {
  readonly direction: 'lean' | 'rich' | 'none';
  readonly shape: Shape;
  /** The bank that is off alone; undefined when all are, or when there is only one. */
  readonly bank?: string;
  /** Banks off in opposite directions. */
  readonly crossed: boolean;
  readonly faded: boolean;
  readonly pinned: boolean;
  /** Ethanol content (% by volume) that would explain a uniform lean trim; NaN otherwise. */
  readonly ethanol: number;
  /** For the summary: "lean at idle only, on bank 1". */
  readonly words: string;
}

/** Regimes whose trims differ by less than this (points) are alike. Common practice, no source. */
const ALIKE = 5;

/** @param all every cell of the car; @param off the cells beyond a limit, worst first */
export function patternOf(all: readonly Cell[], off: readonly Cell[]): Pattern {
  const [worst] = off;
  if (worst === undefined) {
    return {
      direction: 'none',
      shape: 'in one regime',
      crossed: false,
      faded: false,
      pinned: false,
      ethanol: Number.NaN,
      words: 'banks apart',
    };
  }
  const direction = worst.value > 0 ? 'lean' : 'rich';
  const sign = Math.sign(worst.value);
  const banks = [...new Set(all.map(({ bank }) => bank))];
  const offBanks = new Set(off.map(({ bank }) => bank));
  const own = all.filter(({ bank }) => bank === worst.bank);
  const bank = banks.length > 1 && offBanks.size === 1 ? worst.bank : undefined;
  const crossed = off.some((cell) => cell.bank !== worst.bank && cell.value * worst.value < 0);
  const shape = shapeOf(own, sign);
  const values = all.map(({ value }) => value);
  const uniform = Math.max(...values) - Math.min(...values) <= ALIKE;
  const where =
    shape === 'lean at idle and rich under load'
      ? shape
      : shape === 'in one regime'
        ? `${direction} at ${worst.regime}`
        : `${direction} ${shape}`;
  return {
    direction,
    shape,
    ...(bank === undefined ? {} : { bank }),
    crossed,
    faded: all.some(({ faded }) => !Number.isNaN(faded)),
    pinned: off.some(({ pinned }) => pinned),
    ethanol: direction === 'lean' && shape === 'everywhere' && uniform ? 100 * ethanolFor(worst.value) : Number.NaN,
    words: `${where}${bank === undefined ? (banks.length > 1 ? (crossed ? ', the banks in opposite directions' : ', on both banks') : '') : `, on ${bank.replace('bank', 'bank ')} only`}`,
  };
}

/** Judged on one bank; a regime that was not driven leaves the shape open. */
function shapeOf(cells: readonly Cell[], sign: number): Shape {
  const at = (regime: Regime): number => sign * (cells.find((cell) => cell.regime === regime)?.value ?? Number.NaN);
  const idle = at('idle');
  const driving = Number.isNaN(at('load')) ? at('cruise') : at('load');
  if (Number.isNaN(idle) || Number.isNaN(driving)) return 'in one regime';
  if (sign > 0 && idle > ALIKE && driving < -ALIKE) return 'lean at idle and rich under load';
  if (sign < 0 && idle < -ALIKE && driving > ALIKE) return 'lean at idle and rich under load';
  // Off in cruise alone, with idle and load in order, is neither of the others.
  if (at('cruise') - Math.max(idle, driving) >= ALIKE) return 'in one regime';
  if (idle - driving >= ALIKE) return 'at idle';
  if (driving - idle >= ALIKE) return 'growing with load';
  return 'everywhere';
}

interface Reasons {
  readonly causes: readonly string[];
  readonly advice: readonly string[];
}

/** Ranked by how often the pattern has that cause, cheapest test first. Common practice, no source. */
const REASONS: Readonly<
  Record<'lean' | 'rich', Readonly<Record<Exclude<Shape, 'lean at idle and rich under load'>, Reasons>>>
> = {
  lean: {
    'at idle': {
      causes: [
        'air drawn in behind the air meter: intake gasket, hose, crankcase ventilation, brake servo line',
        'tank ventilation valve stuck open with an empty canister',
        'exhaust leak before the lambda sensor (draws air at idle, fades with load)',
        'injector spray poor at small quantities',
      ],
      advice: [
        'Listen for hissing, look at hoses and the crankcase ventilation; pinch off the tank ventilation and servo lines one by one and watch the short trim.',
        'Smoke test of the intake, then of the exhaust ahead of the sensors.',
        'Compare the injectors (balance or flow test).',
      ],
    },
    'growing with load': {
      causes: [
        'fuel delivery does not keep up: tank pump, filter, feed pressure, pump supply voltage',
        'air meter reads low at high flow: dirty or aged',
        'injectors clogged, or smaller than the map believes',
        'high-pressure pump at its limit',
      ],
      advice: [
        'No full load until it is found: lean under load costs pistons.',
        'Record feed and rail pressure against target on a pull.',
        'Clean or swap the air meter; look at the air filter and the ducts before it.',
        'Fuel filter, pump supply voltage and earth; then pump delivery and injector flow.',
      ],
    },
    everywhere: {
      causes: [
        'air meter reads low: dirty, aged or in a housing it is not mapped for',
        'fuel pressure too low',
        'more ethanol in the fuel than the map expects',
        'injectors smaller than the map believes, or exhaust leak before the sensors',
      ],
      advice: [
        'Ask what was filled last; repeat with known fuel.',
        'Clean or swap the air meter, repeat the drive.',
        'Measure feed and rail pressure; then smoke test of intake and exhaust.',
        'After a calibration: check injector and air meter scaling.',
      ],
    },
    'in one regime': {
      causes: [
        'air leak behind the air meter',
        'fuel delivery or pressure low',
        'air meter reads low',
        'exhaust leak before the lambda sensor',
      ],
      advice: [
        'Record the other regimes as well: whether the trim falls or grows with load tells a leak from delivery.',
        'Look at hoses and the crankcase ventilation, then a smoke test.',
        'Measure fuel pressure under load.',
      ],
    },
  },
  rich: {
    'at idle': {
      causes: [
        'tank ventilation valve does not close, canister full',
        'injector leaking',
        'fuel in the engine oil, breathed in through the crankcase ventilation',
        'fuel pressure too high',
      ],
      advice: [
        'Pinch off the tank ventilation line at idle and watch the short trim.',
        'Smell and check the oil level; when it smells of fuel change the oil and repeat.',
        'Watch the rail pressure fall after switching off: quick means a leaking injector.',
      ],
    },
    'growing with load': {
      causes: [
        'charge air escapes behind the air meter (hose, charge-air cooler, dump valve): metered, but not burnt',
        'air meter reads high',
        'injectors larger, or rail pressure higher, than the map believes',
      ],
      advice: [
        'Pressure test of the charge-air path from the air meter to the intake.',
        'Swap or clean the air meter and repeat.',
        'Compare rail pressure with target; after a calibration check injector scaling.',
      ],
    },
    everywhere: {
      causes: [
        'fuel pressure too high',
        'injectors larger than the map believes, or leaking',
        'air meter reads high',
        'lambda sensor reads rich',
      ],
      advice: [
        'Compare rail and feed pressure with target.',
        'Clean or swap the air meter and repeat.',
        'After a calibration: check injector and air meter scaling.',
        'Compare the lambda sensor with a second one.',
      ],
    },
    'in one regime': {
      causes: [
        'tank ventilation',
        'injector leaking or fuel pressure too high',
        'air meter reads high',
        'fuel in the engine oil',
      ],
      advice: [
        'Pinch off the tank ventilation line and watch the short trim.',
        'Record the other regimes as well.',
        'Compare rail pressure with target.',
      ],
    },
  },
};

/** One bank alone: what both banks share (air meter, fuel pressure, fuel) cannot be the reason. Common practice, no source. */
const ONE_BANK: Readonly<Record<'lean' | 'rich', Reasons>> = {
  lean: {
    causes: [
      'air leak on that bank: manifold gasket, runner, charge pipe after the split',
      'exhaust leak ahead of that bank’s lambda sensor',
      'injectors of that bank clogged or wired to the wrong bank',
      'lambda sensor of that bank reads lean',
      'air meter of that bank reads low, where each bank has its own',
    ],
    advice: [
      'Listen and look for leaks on that bank, then smoke test of its intake and its exhaust.',
      'Swap the lambda sensors between the banks: does the trim follow?',
      'Compare the injectors of the banks (balance or flow test).',
    ],
  },
  rich: {
    causes: [
      'injector of that bank leaking',
      'lambda sensor of that bank reads rich',
      'that bank gets less air: duct, filter or turbocharger of that side',
      'tank ventilation led into that bank alone',
      'cam timing of the banks different',
    ],
    advice: [
      'Swap the lambda sensors between the banks: does the trim follow?',
      'Watch the rail pressure fall after switching off, and compare the injectors of the banks.',
      'Compare ducts, boost actuators and cam timing of the banks.',
    ],
  },
};

const BANK_CAUSES = ['air leak, injector, exhaust leak or lambda sensor of that bank'];
const CROSSED = 'lambda sensors of the banks connected crosswise';

/** Causes, likely first, and what to do, cheapest test first. */
export function causesOf(pattern: Pattern, banksApart: boolean): { causes: string[]; advice: string[] } {
  if (pattern.direction === 'none') {
    return {
      causes: [
        ...BANK_CAUSES,
        'intake manifold or charge pipe leaking on one side',
        'cam timing of the banks different',
      ],
      advice: [
        'Look for air and exhaust leaks on the bank that is lean, then smoke test.',
        'Swap the lambda sensors between the banks: does the difference follow?',
        'Compare injectors and cam timing of the banks.',
      ],
    };
  }
  if (pattern.shape === 'lean at idle and rich under load') {
    return {
      causes: [
        'leak between throttle or charge pipe and cylinders: draws air at idle, loses it under boost',
        'air meter off at both ends of its range',
      ],
      advice: [
        'Pressure test of the charge-air path, then smoke test of the intake.',
        'Clean or swap the air meter and repeat.',
      ],
    };
  }
  const alone = pattern.bank !== undefined && !pattern.crossed;
  const { causes, advice } = alone ? ONE_BANK[pattern.direction] : REASONS[pattern.direction][pattern.shape];
  const ranked = [...causes];
  if (pattern.faded && pattern.direction === 'rich')
    ranked.unshift('fuel in the engine oil: the trim came back as the oil got hot');
  if (!alone && !Number.isNaN(pattern.ethanol)) {
    const i = ranked.indexOf('more ethanol in the fuel than the map expects');
    ranked[i] =
      `more ethanol in the fuel than the map expects (about ${figure(pattern.ethanol, 0)} % by volume would do it alone)`;
  }
  if (!alone && banksApart && !pattern.crossed) ranked.push(...BANK_CAUSES);
  if (pattern.crossed) ranked.unshift(CROSSED);
  const steps = [...advice];
  if (pattern.crossed) steps.push('Swap the lambda sensors between the banks: does the trim follow?');
  if (pattern.pinned)
    steps.unshift('Do not load the engine: the correction is at its end and the mixture follows no longer.');
  return { causes: ranked, advice: steps };
}
