import type { Severity } from '../rule.js';
import type { SeenKnock } from './knock-observation.js';

/** Charge air this hot (degC) knocks in a sound engine (common practice, no source). */
export const HOT_AIR = 60;

/** Knock differs from cylinder to cylinder; a torque intervention does not (deg, common practice, no source). */
const ALIKE = 0.2;

/** How the events lie, from which the causes are ranked. */
export interface KnockPattern {
  /** The one cylinder that stands out. */
  readonly lone: number | undefined;
  /** Several cylinders knock alike. */
  readonly shared: boolean;
  readonly hot: boolean;
  /** Retards at low load, where there is no knock. */
  readonly noisy: boolean;
  /** A learned offset stands besides. */
  readonly learned: boolean;
  /** Most events below 3000 rpm. */
  readonly low: boolean;
  /** All cylinders step by the same, as in a torque intervention; `unseen`: nothing recorded tells of traction control. */
  readonly alike: boolean;
  readonly unseen: boolean;
}

export function patternOf(
  events: readonly SeenKnock[],
  spreadLimit: number,
  lowLoad: number,
  offset: number,
  blind: boolean,
): KnockPattern {
  const numbers = new Set(events.flatMap((event) => (event.cylinder === undefined ? [] : [event.cylinder])));
  const apart = new Set(events.flatMap((event) => (event.spread >= spreadLimit ? [event.cylinder] : [])));
  const hot = events.filter((event) => event.air >= HOT_AIR).length;
  const known = events.filter((event) => !Number.isNaN(event.air)).length;
  return {
    lone: apart.size === 1 ? [...apart][0] : numbers.size === 1 ? [...numbers][0] : undefined,
    shared: numbers.size >= 2 && apart.size !== 1,
    hot: known > 0 && hot > known / 2,
    noisy: lowLoad >= 3 && lowLoad > events.length,
    learned: offset >= 1,
    alike: events.length > 0 && events.every((event) => event.peak - event.least <= ALIKE),
    unseen: blind,
    low: events.filter((event) => event.speed < 3000).length > events.length / 2,
  };
}

/** Likely first. */
export function causesOf(pattern: KnockPattern): string[] {
  const { lone, shared, hot, noisy, learned, low, alike, unseen } = pattern;
  const causes: string[] = [];
  if (noisy)
    causes.push(
      'noise that the knock sensor takes for knock (loose bracket, accessory, worn part): it retards at low load as well',
    );
  const intervention =
    'a torque intervention (traction, gearbox torque limit, protection) rather than knock: all cylinders step by the same';
  if (alike && unseen) causes.push(intervention);
  if (hot)
    causes.push(
      `hot charge air (${HOT_AIR} °C or more at the events): heat soak, or charge cooling too small or blocked`,
    );
  if (lone !== undefined) {
    causes.push(
      `cylinder ${lone} alone: spark plug, injector flow or deposits in that cylinder`,
      `cylinder ${lone} alone: uneven air, heat or oil in that cylinder (valve gear, ring, cooling)`,
    );
  }
  const fuel = learned
    ? 'fuel of lower octane rating than the map was made for; the learned offset says it has been so for long'
    : 'fuel of lower octane rating than the map was made for';
  if (lone === undefined) causes.push(fuel);
  if (alike && !unseen) causes.push(intervention);
  causes.push('ignition or boost of the map too bold for this fuel and charge temperature');
  if (shared || lone === undefined) causes.push('lean mixture at load, or carbon in all combustion chambers');
  if (low) causes.push('too much torque asked for at low engine speed');
  if (lone !== undefined) causes.push(fuel);
  causes.push('knock sensor loose, wrongly torqued or its wiring disturbed');
  return causes;
}

/** Cheapest test first. Never proposes to advance the ignition. */
export function adviceOf(pattern: KnockPattern, severity: Severity): string[] {
  const { lone, hot, noisy, alike } = pattern;
  const advice: string[] = [];
  if (severity === 'stop')
    advice.push('No more full load until the cause is found: knock of this size breaks pistons and bearings.');
  else if (severity === 'repair') advice.push('Keep off full load until the cause is found.');
  advice.push('Read the codes (knock sensor P0324 to P0334, misfire, mixture) before anything is cleared.');
  advice.push('Fill up with the best fuel that the map was made for, and repeat the same pulls in the same gear.');
  if (alike)
    advice.push(
      'Repeat the pulls in a higher gear with wheel speeds, torque and the torque that the gearbox asks for recorded.',
    );
  if (hot)
    advice.push('Repeat with cool charge air: some minutes of gentle driving before each pull, one pull at a time.');
  if (lone !== undefined) {
    advice.push(
      `Look at the plug of cylinder ${lone}, then swap plug and coil with a neighbour: does the retard move along?`,
    );
  }
  if (noisy) advice.push('Check the torque and seat of the knock sensor, its plug and loose parts near it.');
  advice.push(
    'Record lambda, its target, boost and charge temperature in the same pulls, and see which is off where it knocks.',
  );
  advice.push('Let whoever is responsible for the map take load or ignition back there; no ignition is to be added.');
  if (severity !== 'watch')
    advice.push('Compression, leak-down and a look with a borescope before the car is bought or driven hard.');
  return advice;
}
