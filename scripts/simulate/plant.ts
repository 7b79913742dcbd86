import { type CarMemory, drawMemory } from './memory.js';
import { Random } from './random.js';

/** Everything in the car that a fault or decoy may disturb. A fresh object is a healthy car. */
export class Plant {
  /** What the control units remember. */
  memory: CarMemory = drawMemory(new Random(0, 31));
  /** What was done to the file of the drive, for the truth alone. */
  tampered: 'none' | 'gap' | 'clock' | 'splice' | 'deleted' | 'copied' | 'scaled' | 'smoothed' | 'whole' = 'none';
  /** Claims of the profile that the car's memory contradicts, for the truth alone. */
  falseClaims = 0;
  /** Block heater or sun: K by which coolant, oil and fluid stand above the air before the start. */
  preheated?: { readonly coolant: number; readonly oil: number; readonly fluid: number };
  // Mixture
  /** kg/s drawn past the meter at idle vacuum (choked flow). */
  leakFlow = 0;
  /** Meter reading over truth at no flow and at rated flow. */
  meterLow = 1;
  meterHigh = 1;
  /** Fuel delivered over fuel commanded, per bank. */
  fuelFactor: [number, number] = [1, 1];
  /** Share of the fuel that is missing at rated flow (weak pump, clogged filter). */
  fuelFade = 0;
  /** Stoichiometric fuel need over that of the calibration fuel (ethanol). */
  fuelNeed = 1;
  /** Share by volume that a content sensor reads. */
  ethanol = 0.1;
  /** Tank ventilation: extra fuel as a share of the mixture while the purge valve is open. */
  purge: { from: number; to: number; share: number }[] = [];
  /** Fuel vapour from the oil: extra fuel as a share of the mixture at idle while the oil is cold, gone at 95 degC. */
  oilVapour = 0;
  /** Lambda over the wanted one where the mixture is enriched (fuel table). */
  fullLoadLean = 1;
  /** The same at high engine speed only, from 60 % of the rev limit on, in full at 80 % (pump and injectors at their end). */
  topLean = 1;
  /** The mixture is enriched only after this long (s) of high load (component protection). */
  enrichAfter = 0;
  /** Further delay (s) of the lambda sensors. */
  sensorDelay = 0;
  /** Fresh air that passes the cylinder at low speed under boost: what the sensor reads over the truth. */
  scavenging = 0;
  /** Air drawn in through a leak before the lambda sensor at idle, share of the exhaust; it fades with the flow. */
  exhaustLeak = 0;
  /** Share by which a lambda sensor exaggerates for each barometric pressure of boost, as the gas before the turbine is under pressure. */
  backPressure = 0;
  /** Adaptation cleared before the drive and held: all long trims exactly 0. */
  trimReset = false;
  /** How much of a lasting error earlier drives have learned into the long trim. */
  learnedShare = 0.85;
  /** What the sensor of each bank takes over its own time to follow. */
  sensorSlow: [number, number] = [1, 1];
  // Fuel supply
  /** Injectors fitted over those that suit the rating; the control unit knows of it. */
  injectorScale = 1;
  /** What the seller says of them, over those that suit the rating; NaN = nothing. For the truth only. */
  injectorClaim = Number.NaN;
  /** Share of the fuel that a second set of injectors gives under load, beside those that are logged. */
  secondSet = 0;
  /** Share of the pressure that is missing at rated flow: tank pump; high-pressure pump. And share too much. */
  feedFade = 0;
  railFade = 0;
  railHigh = 0;
  /** The feed regulator works against the manifold. */
  feedReferenced = false;
  // Tank ventilation
  /** Every so many seconds for so long at that duty; what the canister adds to the mixture of a cruise at full duty (air: negative). */
  purgePattern = { every: 30, length: 14, duty: 0.4 };
  canister = 0;
  /** Tank pressure (kPa gauge), and what each kPa of boost adds to it: the check valve leaks. */
  tankBase = -0.2;
  tankPerBoost = 0;
  // Octane
  /** Share of the authority that is learned at the start; authority (deg); the column counts down from 100. */
  octaneLearned = 0;
  octaneAuthority = 8;
  octaneDown = false;
  // Knock
  knock: { cylinders: readonly number[]; retard: number; from: number; to: number; pulls: readonly number[] }[] = [];
  /** Short retard (deg) of all cylinders on a fast pedal opening. */
  tipInRetard = 0;
  /** Retard (deg) of all cylinders while the charge air is above 55 degC at high load. */
  hotChargeRetard = 0;
  /** The logged knock retard also holds the ignition intervention of shifts and traction control. */
  retardHoldsInterventions = false;
  /** Natural single knock events per second at high load. */
  knockRate = 0.12;
  /** One cylinder ignites before its spark, at high load below 2900 rpm: retard (deg) in one step, so many times. */
  preIgnition: { cylinder: number; retard: number; times: number } = { cylinder: 0, retard: 0, times: 0 };
  /** What the logged values are over the true ones: factors of torque and air flow, and kPa on the manifold pressure. For the truth alone; the recording does it. */
  logged = { torque: 1, air: 1, manifold: 0 };
  // Combustion
  /** Share of the firings of these cylinders that are missed: always, at idle or under load. */
  misfires: { cylinders: readonly number[]; share: number; when: 'always' | 'idle' | 'load' }[] = [];
  /** The counters also count while fuel or ignition are cut on purpose. */
  countsCuts = false;
  /** Misfire counters that hold what earlier drives left, and nothing of this one; empty = live. */
  countsBefore: readonly number[] = [];
  /** s after which the control unit starts its counters anew, 0 = never. */
  countsReset = 0;
  /** Half of the cylinders are shut off at cruise. */
  shutsOff = false;
  /** Cylinders apart from the others: roughness (share), fuel correction (points), exhaust under load (K). */
  cylinders: { cylinder: number; roughness: number; correction: number; exhaust: number }[] = [];
  /** Swing of the idle: amplitude (rpm), frequency (Hz); and idle over its target (rpm). */
  idleHunt = { amplitude: 0, frequency: 1 };
  idleHigh = 0;
  /** Accessory that comes and goes at idle: torque (N.m), period (s). */
  accessory = { torque: 0, period: 20 };
  /** Jerks at part load: amplitude (rpm), frequency (Hz). */
  surge = { amplitude: 0, frequency: 4 };
  /** What the road does to the crank speed in gear, rpm (standard deviation), and stretches of rough road (s). */
  ripple = 0;
  roughRoad = { every: 0, length: 0, factor: 1 };
  /** Seconds of cranking before the engine catches, below and above 50 degC of coolant. */
  crankCold = 0.55;
  crankHot = 0.55;
  // Engine speed
  /** rpm by which the limiter lets go later than the car's own. */
  limiterLate = 0;
  /** The electric coolant pump runs on for this long (s) after the engine was switched off. */
  afterRun = 0;
  // Breathing
  /** Filling at idle over healthy (leaks, worn rings, wrong valve timing), back to 1 at 2500 rpm. */
  idleFilling = 1;
  /** The valves meter the air: the manifold stays near the barometer. */
  valveThrottled = false;
  /** Blow-by into the crankcase over healthy. */
  blowBy = 1;
  // Valve timing
  /** The intake phaser of that bank (0, 1) goes no further than this (deg of the crank). */
  camReach: [number, number] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  /** Degrees of the crank by which that bank stands off: stretched chain. */
  camOffset: [number, number] = [0, 0];
  /** The control unit logs degrees of the cam beside a target in degrees of the crank. */
  camDegrees = false;
  // Charge air
  /** Boost runs past its target by that much (kPa) for that long (s) whenever it arrives there. */
  boostOvershoot = { size: 0, hold: 0 };
  /** kPa by which settled boost stands off its target. */
  boostOffset = 0;
  /** Share of the boost that the turbocharger can still build. */
  boostShare = 1;
  /** Settled boost swings by that much (kPa) to either side at that rate (Hz). */
  boostHunt = { amplitude: 0, frequency: 1 };
  /** The logged target of boost is that of the driver's wish, before a limit of torque takes that share of it away. */
  targetBeforeLimit = 1;
  /** The throttle holds the manifold to a share of the charge pressure at full pedal, between those speeds (rpm), in those gears (empty = all). */
  throttleCut: { share: number; from: number; to: number; gears: ReadonlySet<number> } | undefined;
  /** Share of the rated air flow that escapes between compressor and throttle at rated boost. */
  chargeLeak = 0;
  /** A dump valve to the outside: share of the rated flow that is metered and blown off when the driver lets go. */
  ventedDump = 0;
  /** Air is computed from manifold pressure; no meter tells the control unit of a leak. */
  speedDensity = false;
  /** Performance of the charge cooler over healthy, and heat that the cooler has soaked up (K over ambient) at the start. */
  coolerShare = 1;
  /** The air meter reads no more than this (kg/s). */
  meterCeiling = Number.POSITIVE_INFINITY;
  /** The wastegate position stands off its target by that much (points). */
  actuatorOff = 0;
  // Coolant
  /** Steam passes the coolant sensor: every so many seconds the reading rises by so many kelvin and falls back. */
  bubbles: { every: number; size: number } | undefined;
  /** The level switch says low. */
  coolantLow = false;
  /** Combustion gas presses the coolant by so many kPa at full load. */
  gasPressure = 0;
  // Protection
  /** Share of the full-load torque that the control unit lets through, below what it says is demanded. */
  torqueCeiling = 1;
  /** The emergency mode is logged as active. */
  limpMode = false;
  // Heat
  /** While the phase with that tag runs, the fluid climbs to the peak (degC), stays there for the dwell (s), then cools. */
  overheats: {
    tag: string;
    peak: number;
    dwell: number;
    rise: number;
    where: 'fluid' | 'outlet' | 'coolant' | 'oil';
  }[] = [];
  /** Cooler performance of the transmission fluid over healthy. */
  coolerFactor = 1;
  /** Share by which the thermostat stays open at any temperature. */
  thermostatOpen = 0;
  /** A mapped thermostat opens this much (K) earlier at high load. */
  thermostatMap = 0;
  // Oil
  /** Pressure before the relief valve over healthy: worn bearings let it out. */
  oilShare = 1;
  /** The relief valve, stuck, opens at this pressure (bar). */
  oilRelief = Number.POSITIVE_INFINITY;
  /** Seconds of turning after which the galleries are full, oil at 20 degC. */
  oilFill = 0;
  /** Oil leaves the pick-up above so many m/s2 of cornering, after the delay (s): share of the pressure that is left. */
  oilSurge = { from: Number.POSITIVE_INFINITY, delay: 0.4, share: 1 };
  /** Two-stage pump: pressure (bar) of the low stage, used below that engine speed (rad/s) at low load. */
  oilLowStage = Number.POSITIVE_INFINITY;
  oilStageBelow = 366;
  // Clutches and driveline
  /**
   * Worn clutches: torque held without slip (N.m) and its rise with slip (N.m per rad/s, the positive friction gradient
   * of a wet clutch), for path 1 (odd gears, or the only one), 2 (even gears) or 0 = both.
   */
  wornClutch: { path: 0 | 1 | 2; hold: number; gradient: number } | undefined;
  /** The same of the converter's lock-up clutch. */
  wornLockUp: { hold: number; gradient: number } | undefined;
  /** Slip (rad/s) that a dual clutch keeps on purpose at part load; NaN = its own. */
  microSlip = Number.NaN;
  /** Speed (rad/s) by which the lock-up clutch slips on purpose while it is controlled. */
  lockUpSlip = 0;
  /** The same while the fluid is below 45 degC. */
  lockUpColdSlip = 0;
  /** Line pressure delivered over commanded, and what is missing of it at warm fluid (bar). */
  pressureFactor = 1;
  pressureLoss = 0;
  /** Self-excited torsion of the input shaft on take-up: amplitude (rpm), frequency (Hz). */
  judder = { amplitude: 0, frequency: 9 };
  /** Share of its speed by which a wheel turns unevenly on setts or a washboard track. */
  roadShake = 0;
  /** Half-order torsion of a rough idle on the input shaft (rpm). */
  roughIdle = 0;
  /** Share of the commanded coupling torque that arrives. */
  couplingShare = 1;
  /** Largest command (0..1) that the control unit gives. */
  couplingLimit = 1;
  /** Coupling opened on purpose above this speed (km/h) or by stability control. */
  couplingOffAbove = Number.POSITIVE_INFINITY;
  couplingOpened = false;
  /** Stick-slip hop of the wheels at full lock: amplitudes (km/h) at the front and rear, frequency (Hz). */
  hop = { front: 0, rear: 0, frequency: 6 };
  /** Per wheel (front left, front right, rear left, rear right): true circumference over nominal; what its sensor makes of the speed. */
  circumference: [number, number, number, number] = [1, 1, 1, 1];
  wheelFactor: [number, number, number, number] = [1, 1, 1, 1];
  /** Speed (km/h) below which each wheel's sensor gives nothing, and share of the speed by which a tone ring runs out of round. */
  wheelLostBelow: [number, number, number, number] = [0, 0, 0, 0];
  toneRing: [number, number, number, number] = [0, 0, 0, 0];
  /** deg at the steering wheel when straight. */
  steeringOffset = 0;
  /** N at the rear wheels, always. */
  brakeDrag = 0;
  /** Clutch adaptation as stored, per clutch: touch point (bar) and correction (%). */
  touchPoint: [number, number] = [2.1, 2.2];
  clutchCorrection: [number, number] = [1.5, -1];
  // Gears and shifts
  /** True ratio over the profile's, by gear (1..n); 1 where not named. */
  gearFactor: Readonly<Record<number, number>> = {};
  /** Gears that never engage; a box held in one gear has all the others here. */
  lostGears: ReadonlySet<number> = new Set();
  /** Power-on upshifts out of these gears (empty = none): the old clutch lets go until the engine has run this far (rpm) over. */
  flare: { gears: ReadonlySet<number>; rpm: number } = { gears: new Set(), rpm: 0 };
  /** Shift duration over healthy, for shifts out of these gears (undefined = all). */
  shiftFactor: { gears: ReadonlySet<number> | undefined; factor: number } = { gears: undefined, factor: 1 };
  /** Seconds from selector to take-up, warm, NaN = the car's own; and what the first one after a long rest takes more. */
  engageTime = Number.NaN;
  engageRest = 0;
  /** Moments after take-up (s) at which the drive drops out, and for how long (s). */
  dropOut: { after: number; seconds: number; times: number } = { after: 1.5, seconds: 0, times: 0 };
  // Electrics
  /** Charge of the battery at the start of the drive, 0..1, and its inner resistance over healthy. */
  batteryCharge = 0.85;
  batteryResistance = 1;
  /** The alternator gives nothing. */
  alternatorDead = false;
  /** V by which the regulator holds too much; and what is wanted in steady driving. */
  regulatorHigh = 0;
  chargeCruise = 13.9;
  // Exhaust
  /** Gas before the turbine at high load (degC), where it is hotter than it should be. */
  exhaustFull = Number.NEGATIVE_INFINITY;
  /** g of oxygen that one bank's catalyst holds; share of the gas that passes it by. */
  oxygenStorage = 3.4;
  catalystBypass = 0;
  /** The front oxygen sensor switches, and the mixture swings with it. */
  narrowBand = false;
  /** Resistance of the particulate filter over a clean one; kPa that its sensor shows at rest. */
  filterLoad = 1.15;
  /** Gas (degC) that the data sheet of the filter is written for. */
  filterSheet = 600;
  filterOffset = 0;
  /** s by which a spacer delays the rear sensor; and a box that makes up its signal. */
  rearSpacer = 0;
  rearSimulated = false;
}
