import { type ChannelDefinition, definer } from '../definition.js';

const c = definer('engine');
const flag = { kind: 'flag' } as const;

/** What the engine control unit is doing: cuts, limiters, lamps, switches. */
export const ENGINE_STATE: readonly ChannelDefinition[] = [
  c(
    'fuelCut',
    '1',
    [0, 1],
    'fuel cut (active) | overrun fuel cut | overrun cut off | fuel cut off | deceleration fuel cut | overrun',
    'Fuel cut on overrun',
    flag,
  ),
  c(
    'limpMode',
    '1',
    [0, 1],
    'limp mode (active) | limp home (mode) | reduced power mode | emergency running mode | protection mode',
    'Emergency mode',
    flag,
  ),
  c(
    'torqueLimiterActive',
    '1',
    [0, 1],
    'torque limiter active | torque limiter | torque limit active | torque limitation active | power limit active',
    'A torque limiter is in charge',
    flag,
  ),
  c(
    'revLimiterActive',
    '1',
    [0, 1],
    'rev limiter active | rev limiter | engine speed limiter active',
    'Speed limiter is in charge',
    flag,
  ),
  c('engineRunning', '1', [0, 1], 'engine running | engine run state | engine on', 'Engine runs', flag),
  c(
    'starterActive',
    '1',
    [0, 1],
    'starter active | starter | starter motor | cranking | starter relay | crank signal',
    'Starter is driven',
    flag,
  ),
  c(
    'startStopActive',
    '1',
    [0, 1],
    'start stop active | auto stop | start stop | stop start | automatic stop active',
    'Automatic stop',
    flag,
  ),
  c(
    'cylinderDeactivation',
    '1',
    [0, 1],
    'cylinder deactivation (active) | cylinder shut off | cylinder cut off',
    'Cylinders shut off by design',
    flag,
  ),
  c(
    'warningLamp',
    '1',
    [0, 1],
    'malfunction indicator lamp | malfunction indicator lamp status | check engine (lamp) | engine warning lamp | malfunction lamp',
    'Malfunction indicator lamp',
    flag,
  ),
  c(
    'warningLampFlashing',
    '1',
    [0, 1],
    'malfunction indicator lamp flashing | flashing engine lamp | check engine flashing',
    'Lamp flashes: misfire that can destroy the catalyst',
    flag,
  ),
  c(
    'idleSwitch',
    '1',
    [0, 1],
    'idle switch | closed throttle (position) (switch) | idle contact | idle active | idle state',
    'Pedal released',
    flag,
  ),
  c(
    'fullLoadSwitch',
    '1',
    [0, 1],
    'full load switch | wide open throttle (switch) | full load | full throttle (switch) | full load active',
    'Full load',
    flag,
  ),
];
