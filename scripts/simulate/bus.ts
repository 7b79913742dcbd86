/** Positions of the selector as the simulator numbers them. */
export const SELECTOR = { P: 0, R: 1, N: 2, D: 3, M: 4 } as const;

/** The state that the subsystems share in one step. SI units unless a name says otherwise; temperatures in degC. */
export class Bus {
  t = 0.1;
  // Driver
  key = 0; // 0 off, 1 on, 2 crank
  pedal = 0.01; // 0..1
  brake = 0.01; // 0..1
  selector: number = SELECTOR.P;
  gearRequest = 0; // 0 = automatic
  steering = 0.01; // deg at the steering wheel, left positive
  lateral = 0.01; // m/s2, left positive
  forcedGear = 0; // engaged whatever the engine speed will be; 0 = none
  autoStop = 0; // the engine is stopped to save fuel
  pullNumber = 0; // 1.. within a pull of the script
  phase = 0;
  launchArmed = 0; // driver asks for the launch programme
  // Road and air
  grade = 0.0001;
  grip = 1.01;
  ambient = 20.1;
  altitude = 0.1;
  barometer = 101.3; // kPa
  density = 1.201;
  wind = 0.01;
  // Engine
  engineSpeed = 0.01; // rad/s
  running = 0;
  runTime = 0.01;
  manifold = 101.3; // kPa
  boost = 101.3; // kPa before throttle
  boostTarget = 101.3;
  wastegate = 0.01; // duty 0..1
  wastegatePosition = 0.01; // 0..1, 1 = closed
  airFlow = 0.0001; // kg/s through the cylinders
  airLeaked = 0.0001; // kg/s that escape behind the compressor
  airMetered = 0.0001; // kg/s through the meter
  strokeShare = 0.01; // air per stroke over rated
  load04 = 0.01; // %
  throttle = 0.01; // 0..1
  demand = 0.01; // N.m asked by the driver and idle governor
  torque = 0.01; // N.m brake
  frictionTorque = 0.01;
  ignition = 5.1; // deg before TDC
  retardTotal = 0.01; // deg from base
  unsteady = 0.01; // rpm, what rides on the crank speed without moving the car
  knockMean = 0.01; // deg
  fuelCut = 0;
  fuelFlow = 0.0001; // kg/s
  lambdaTarget = 1.001;
  chargeAir = 30.1; // degC
  intakeAir = 25.1; // degC in the air box
  railPressure = 5000.1; // kPa
  feedPressure = 0.01; // kPa gauge
  feedTarget = 400.1;
  injectionTime = 0.01; // ms
  purgeDuty = 0.01; // 0..1
  purgeVapour = 0.0001; // share of the mixture
  tankPressure = 0.01; // kPa gauge
  octaneRetard = 0.01; // deg held for what was learned
  octane = 0.01; // share of its authority that the control unit has learned
  railTarget = 5000.1;
  oilPressure = 0.01; // bar gauge
  oilWhole = 0.01; // bar that it would be with the pick-up in oil
  oilShare = 1.001; // pressure left by the bearings, over healthy
  oilCeiling = 99.1; // bar that pump stage and relief valve allow
  idleTarget = 750.1; // rpm
  // Torque handling asked by the transmission
  torqueFactor = 1.001; // 0..1 of the demand, by ignition
  torqueLimit = 2000.1; // N.m
  blip = 0.01; // N.m added
  tractionFactor = 1.001;
  tractionOff = 0;
  // Transmission and driveline
  gear = 0; // engaged, -1 = R
  gearTarget = 0;
  nodeSpeed = 0.01; // rad/s, what the clutches see on their input side
  ratio1 = 0.01; // shaft 1 to driven axle, final drive included; 0 = no gear
  ratio2 = 0.01;
  capacity1 = 0.01; // N.m
  capacity2 = 0.01;
  torque1 = 0.01; // carried
  torque2 = 0.01;
  slipTarget1 = 0.01; // rad/s wanted micro-slip
  slipTarget2 = 0.01;
  lockUp = 0; // converter clutch closed
  lockUpCapacity = 0.01;
  lockUpGradient = 0.01; // N.m/(rad/s), what a worn one carries more per slip
  lockUpStiffness = 40.01; // N.m/(rad/s), how fast it closes
  shifting = 0;
  frontAxle = 0.01; // rad/s
  rearAxle = 0.01;
  coupling = 0.01; // command 0..1
  couplingClosed = 0.01; // what of the command arrives, 0..1
  couplingTorque = 0.01;
  brakeDrag = 0; // N
  linePressure = 0.01; // bar, main pressure of the transmission
  linePressureTarget = 0.01;
  judder = 0.01; // rpm, torsion of the input shaft
  hopFront = 0.01; // km/h at the front wheels
  hopRear = 0.01;
  road = 0.001; // share by which a rough road makes the wheels turn faster or slower
  speed = 0.001; // m/s over ground
  acceleration = 0.01; // m/s2
  distance = 0.001; // m
  clutchHeat = 0.01; // W
  meshHeat = 0.01; // W
  brakeForce = 0.01; // N
  // Heat
  coolant = 20.1;
  oil = 20.1;
  fluid = 20.1;
  clutchOutlet = 20.1;
  // Electrics
  voltage = 12.5;
}
