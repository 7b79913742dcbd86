/**
 * Which phases settle which rule, when its channels are recorded: alternatives, each a set of phases that it takes
 * together. Made from what the rules ask for in `proves`; a test holds that every rule stands here or in `READ_OUTS`.
 */
export const SETTLED_BY: Readonly<Record<string, readonly (readonly string[])[]>> = Object.freeze({
  'usage.launches': [['gentle-warm-up']],
  'usage.over-rev': [['full-load-pulls']],
  'usage.cold-load': [['cold-start', 'gentle-warm-up']],
  'usage.severity': [['gentle-warm-up']],
  'usage.hot-stop': [['hot-restart']],
  'transmission.over-temperature': [['gentle-warm-up', 'full-load-pulls']],
  'transmission.clutch-slip': [['full-load-pulls']],
  'transmission.clutch-adaptation': [],
  'transmission.pressure': [['gentle-warm-up']],
  'transmission.judder': [['gentle-warm-up']],
  'transmission.lock-up': [['straight-cruise']],
  'transmission.ratio': [['gentle-warm-up']],
  'transmission.shift-quality': [['gentle-warm-up']],
  'transmission.selection': [['selector']],
  'transmission.gear-coverage': [['gentle-warm-up', 'selector']],
  'driveline.front-drive': [['slippery-pull-away']],
  'driveline.low-speed-hop': [['full-lock']],
  'driveline.tyre-circumference': [['straight-cruise']],
  'driveline.wheel-speed': [['straight-cruise']],
  'engine.knock': [['full-load-pulls']],
  'engine.pre-ignition': [['full-load-pulls']],
  'engine.misfire': [
    ['cold-start', 'gentle-warm-up'],
    ['straight-cruise', 'hot-idle'],
  ],
  'engine.cylinder-balance': [['straight-cruise', 'hot-idle']],
  'engine.idle': [['hot-idle']],
  'engine.oil-pressure': [['straight-cruise', 'hot-idle']],
  'engine.oil-surge': [['key-on', 'cold-start', 'fast-corners']],
  'engine.oil-temperature': [['full-load-pulls']],
  'engine.torque-load': [['full-load-pulls']],
  'engine.power': [['full-load-pulls']],
  'engine.breathing': [['key-on', 'hot-idle']],
  'engine.cam-timing': [['gentle-warm-up']],
  'engine.coolant-loss': [['gentle-warm-up', 'straight-cruise']],
  'engine.start-quality': [['cold-start', 'hot-restart']],
  'engine.protection': [['full-load-pulls']],
  'engine.cooling': [['gentle-warm-up', 'straight-cruise', 'hot-idle']],
  'engine.oil-dilution': [['cold-start', 'hot-idle']],
  'engine.smoothness': [['straight-cruise']],
  'fuel.trim': [['straight-cruise', 'hot-idle']],
  'fuel.lambda-load': [['full-load-pulls']],
  'fuel.injector-duty': [['full-load-pulls']],
  'fuel.injector-size': [['full-load-pulls']],
  'fuel.rail-pressure': [['full-load-pulls']],
  'fuel.octane-learning': [['full-load-pulls']],
  'fuel.purge': [['gentle-warm-up', 'straight-cruise']],
  'fuel.lambda-sensor': [['straight-cruise']],
  'air.boost-control': [['full-load-pulls']],
  'air.charge-leak': [['full-load-pulls']],
  'air.charge-cooling': [['full-load-pulls']],
  'air.meter-range': [['full-load-pulls']],
  'air.throttle-closure': [['full-load-pulls']],
  'air.turbo-health': [['full-load-pulls']],
  'exhaust.catalyst': [['straight-cruise']],
  'exhaust.temperature': [['full-load-pulls']],
  'exhaust.particulate-filter': [['key-on', 'full-load-pulls']],
  'electrical.charging': [['cold-start', 'hot-idle']],
  'codes.stored': [],
  'codes.monitor-results': [],
  'provenance.recent-clear': [],
  'provenance.cold-start': [['key-on', 'cold-start']],
  'provenance.recording': [['gentle-warm-up']],
  'provenance.sensor-agreement': [['key-on', 'straight-cruise']],
  'provenance.distance': [['gentle-warm-up']],
  'provenance.calibration': [],
  'provenance.claims': [['full-load-pulls']],
});

/** Rules that a set of phases settles. */
export function settledBy(phases: ReadonlySet<string>): string[] {
  return Object.keys(SETTLED_BY).filter((rule) => SETTLED_BY[rule]!.some((set) => set.every((id) => phases.has(id))));
}

/** Rules that a phase has a part in. */
export function partIn(phase: string): string[] {
  return Object.keys(SETTLED_BY).filter((rule) => SETTLED_BY[rule]!.some((set) => set.includes(phase)));
}
