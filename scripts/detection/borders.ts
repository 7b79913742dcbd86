/**
 * Twice the uncertainty of measurement per rule, in the unit of the truth's margin: cases closer to a limit are judged
 * apart. Temperatures are logged in whole degrees; retard in steps of up to 0.75 deg; trims wander by about a point; launches
 * are judged by a rate, whose border is the count itself.
 */
export const BORDER: Readonly<Record<string, number>> = {
  'usage.launches': 0.5,
  // % of the rev limit: an over-rev fades by 3 % a second, and two samples of a slow log are 0.4 s
  'usage.over-rev': 1.2,
  // s: the guard of the load fraction, and the ends of the stretches
  'usage.cold-load': 2,
  // shares of each limit: the guard of an acceleration sensor leaves out brakings just beyond the limit
  'usage.severity': 0.2,
  // s: ends of the stretches, guards of torque and boost
  'usage.hot-stop': 2,
  'transmission.over-temperature': 1,
  'transmission.clutch-slip': 0.5,
  // %: a step of two learned ratios; below the limit of 1 % itself, or no false finding would ever count
  'transmission.ratio': 0.9,
  // s: half a row of selector and gear each
  'transmission.selection': 0.2,
  // gears are whole
  'transmission.gear-coverage': 0.5,
  // rpm: noise of two speeds and their lag
  'transmission.shift-quality': 45,
  'driveline.front-drive': 0.5,
  'driveline.tyre-circumference': 0.15,
  'driveline.wheel-speed': 0.6,
  'transmission.lock-up': 10,
  'transmission.pressure': 0.35,
  'transmission.judder': 14,
  'driveline.low-speed-hop': 0.15,
  'transmission.clutch-adaptation': 0.06,
  'engine.knock': 0.75,
  // % of the firings: ends of the windows, and firings that a shift or cut takes from one side only
  'engine.misfire': 0.15,
  // shares of the watch limit: 8 K of two thermocouples
  'engine.cylinder-balance': 0.22,
  // rpm: noise of the sensor beside the swing, few independent swings in half a minute
  'engine.idle': 6,
  'fuel.trim': 1.5,
  // bar: sensor scatter and noise, and half a second of following
  'engine.oil-pressure': 0.07,
  // bar, and s: two sensors; both ends of the build-up between two samples
  'engine.oil-surge': 0.2,
  // points: drift of the mixture with warmth, few independent swings of a controller in half a minute
  'engine.oil-dilution': 1.6,
  // times its own cruise: amplitudes of noise in windows of two seconds scatter by a quarter
  'engine.smoothness': 1.2,
  'engine.oil-temperature': 1.2,
  // times the rating: two estimates of torque at 3.5 % together
  // share of the barometric pressure: two sensors
  'engine.breathing': 0.04,
  // deg of the crank: two sensors
  'engine.cam-timing': 1.1,
  // of the demand: two channels of one control unit
  'engine.protection': 0.04,
  // K: whole degrees, twice
  'engine.coolant-loss': 1.6,
  // s: both ends lie between two samples of a log at 10 Hz
  'engine.start-quality': 0.12,
  // events are whole
  'engine.pre-ignition': 0.5,
  'engine.torque-load': 0.07,
  // of the claim: an interval of 8 % at least
  'engine.power': 0.09,
  // lambda: sensor scatter and noise, wander over half a second
  // shares of the limit: two torques at 3.5 % and a model of 5 %, or two pressure sensors
  'provenance.sensor-agreement': 0.7,
  'fuel.lambda-load': 0.012,
  // shares of the limit: speed and time lie up to one row apart
  'fuel.injector-duty': 0.05,
  // natural logarithm of claimed over fitted: the interval itself
  'fuel.injector-size': 0.2,
  // % of the target: 2 % of two sensors, and when a target counts as still
  'fuel.rail-pressure': 2.5,
  // s, and times the other bank: one row of a slow log, few cuts
  'fuel.lambda-sensor': 0.15,
  // % of the authority: steps of half a percent, and what a drive changes
  'fuel.octane-learning': 4,
  // in quarters of points, and thirds of kPa: wander of the trim in ten steps
  'fuel.purge': 0.8,
  // K: whole degrees and half a kelvin of scatter
  'engine.cooling': 1.2,
  // K: class of the probe and its own delay
  'exhaust.temperature': 9,
  // shares of a limit: 0.1 s between two sensors at up to 12 g/s, and counts of switches
  'exhaust.catalyst': 0.25,
  // shares of a limit: air meter, back pressure of the silencer, thickness of hot gas
  'exhaust.particulate-filter': 0.25,
  // V: what a control unit reads off true; its share while cranking stands in the truth
  'electrical.charging': 0.12,
  // kPa: noise of a sensor over 0.3 s, a moving target
  'air.boost-control': 2.5,
  // codes are whole
  'codes.stored': 0.5,
  // % of a limit: read as written
  'codes.monitor-results': 0.05,
  // km: whole ones
  'provenance.recent-clear': 0.5,
  'provenance.recording': 0.5,
  // K: two sensors of whole degrees and their tolerance
  'provenance.cold-start': 3,
  'provenance.claims': 0.5,
  'provenance.distance': 2,
  'provenance.calibration': 0.5,
  // points: noise and steps of a throttle sensor
  'air.throttle-closure': 1.5,
  // effectiveness: a compressor efficiency that is known to 0.05
  'air.charge-cooling': 0.05,
  // s: both ends lie between two samples of a log at 10 Hz
  'air.meter-range': 0.2,
  // kPa of missing boost, points of the actuator: noise of two sensors
  'air.turbo-health': 2.2,
  // share of the rated flow: filling learned to 3 %, charge temperature to some kelvin
  'air.charge-leak': 0.01,
};

/** Measures to compare: ours against the truth's name. */
export const COMPARED: Readonly<Record<string, readonly string[]>> = {
  'usage.launches': ['launches'],
  'usage.over-rev': ['mechanicalOver'],
  'usage.cold-load': ['hardCold'],
  'usage.severity': ['share', 'brakingsPerKm'],
  'usage.hot-stop': ['highLoad'],
  'transmission.over-temperature': ['peak', 'dwell'],
  'transmission.clutch-slip': ['slip'],
  'transmission.ratio': ['step'],
  'transmission.selection': ['delay.D', 'dropOut'],
  'transmission.gear-coverage': [],
  'transmission.shift-quality': ['flare', 'duration', 'longest'],
  'driveline.front-drive': ['notHalved'],
  'driveline.tyre-circumference': ['axle', 'front', 'rear'],
  'driveline.wheel-speed': ['deviation', 'steeringOffset'],
  'transmission.lock-up': ['slip'],
  'transmission.judder': ['amplitude'],
  'driveline.low-speed-hop': ['front'],
  'transmission.pressure': ['overLimit'],
  'transmission.clutch-adaptation': ['clutchTouchPoint.clutch1', 'clutchTouchPoint.clutch2'],
  'engine.knock': ['maxRetard'],
  'fuel.trim': ['idle.bank1', 'cruise.bank1', 'load.bank1', 'idle.bank2', 'cruise.bank2', 'load.bank2'],
  'engine.misfire': ['rate'],
  'engine.cylinder-balance': ['correction', 'exhaust'],
  'engine.idle': ['swing', 'offTarget'],
  'engine.oil-pressure': ['hotIdle'],
  'engine.oil-surge': ['buildUp'],
  'engine.oil-dilution': ['fading'],
  'engine.smoothness': ['amplitude'],
  'engine.oil-temperature': ['peak'],
  'engine.torque-load': ['overRated'],
  'engine.pre-ignition': ['events'],
  'engine.start-quality': ['cold', 'hot'],
  'engine.coolant-loss': [],
  'engine.protection': ['largest'],
  'engine.cam-timing': ['offset'],
  'engine.breathing': ['manifoldShare', 'crankcase'],
  'engine.power': [],
  'provenance.sensor-agreement': [],
  'fuel.lambda-load': ['excess'],
  'fuel.injector-duty': ['duty', 'angle'],
  'fuel.injector-size': ['flow'],
  'fuel.rail-pressure': ['rail.below', 'feed.below'],
  'fuel.lambda-sensor': ['response.bank1', 'response.bank2'],
  'fuel.octane-learning': ['learned'],
  'fuel.purge': ['effect', 'tankRise'],
  'engine.cooling': ['peak'],
  'electrical.charging': ['highest', 'lowest'],
  'air.boost-control': ['overshoot'],
  'exhaust.temperature': ['peak'],
  'codes.stored': ['codes'],
  'codes.monitor-results': ['least'],
  'provenance.recent-clear': ['distance'],
  'provenance.recording': [],
  'provenance.cold-start': ['over'],
  'provenance.claims': ['contradicted'],
  'provenance.distance': ['spread'],
  'provenance.calibration': [],
  'air.throttle-closure': ['closure'],
  'air.charge-cooling': ['effectiveness', 'rise'],
  'air.meter-range': ['flat'],
  'air.turbo-health': ['missing'],
  'air.charge-leak': [],
  'exhaust.catalyst': ['storage.bank1', 'ratio.bank1'],
  'exhaust.particulate-filter': ['share'],
};
