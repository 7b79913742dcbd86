/**
 * What to ask the seller about a finding: rule, or system, or topic of the walk-round sheet, to question. Open questions,
 * so that the answer can be held against the evidence.
 */
const QUESTIONS: Readonly<Record<string, string>> = Object.freeze({
  'usage.launches':
    'How often, where and on what surface was the car launched, and when was the clutch fluid changed since?',
  'usage.over-rev':
    'When was it over-revved, and has the valve train been looked at or a leak-down test been made since?',
  'usage.cold-load': 'Who else drove the car, and how is it warmed up?',
  'usage.severity': 'On which circuits was it driven, how many days, and what was serviced after each?',
  'usage.hot-stop': 'How is the car usually put away after a hard drive?',
  transmission: 'Which services did the transmission have, with which fluid, and what was changed in it?',
  'transmission.over-temperature':
    'When was the transmission fluid last changed, by whom, and is a larger cooler fitted?',
  'transmission.clutch-slip':
    'Since when does the clutch slip, what torque is it mapped for, and was the clutch changed?',
  'transmission.clutch-adaptation': 'When and why were the clutches adapted last?',
  'transmission.selection': 'Does it take D and R as slowly when it is cold, and has anybody looked at it?',
  'transmission.shift-quality':
    'Has the transmission software been changed, and does it shift the same with the original?',
  'transmission.gear-coverage': 'Which gears has it lost, and what did the workshop say?',
  'transmission.ratio': 'Were gearbox, final drive or tyre sizes changed?',
  driveline: 'Were differentials, transfer unit, shafts or tyre sizes changed, and when was their oil?',
  'driveline.front-drive': 'Has the coupling to the second axle been serviced, and does it work on snow?',
  'driveline.tyre-circumference': 'Were the tyres changed in pairs, and of which make and date are they?',
  'engine.knock': 'Which fuel was the car mapped for, and which is in the tank now?',
  'engine.pre-ignition': 'Which oil is in the engine, and has it been opened since it was mapped?',
  'engine.misfire': 'When were plugs and coils changed, and which gap and heat range are fitted?',
  'engine.cylinder-balance': 'Was a compression or leak-down test made, and may one be made now?',
  'engine.torque-load': 'Are connecting rods and bearings original, and for which torque were they built?',
  'engine.oil-pressure':
    'Which oil is in it, when were bearings or pump last seen, and may the pressure be measured by a gauge?',
  'engine.cooling': 'Did it ever overheat, and what was done?',
  'engine.coolant-loss': 'How much coolant was filled in and when; was it tested for exhaust gas?',
  'engine.power': 'May I see the sheet of the dynamometer, with date and fuel?',
  engine: 'Has the engine been opened, by whom, and are there invoices?',
  'fuel.trim': 'Were intake, injectors or air meter changed, and was the map made for them?',
  'fuel.lambda-load': 'Who mapped the car, when, with which fuel, and may I speak with him?',
  'fuel.injector-size': 'Which injectors are fitted, and where is their invoice?',
  fuel: 'Which pumps, injectors and fuel system parts are fitted, and where are their invoices?',
  air: 'Which turbochargers, hoses and coolers are fitted, and how old are they?',
  'exhaust.catalyst': 'Are the catalysts fitted, which ones, and may they be looked at from below?',
  'exhaust.particulate-filter': 'Is the particulate filter fitted, and may it be looked at from below?',
  exhaust: 'What was changed at the exhaust, and is it approved?',
  electrical: 'How old are battery and alternator?',
  'codes.stored': 'Since when are these codes stored, and what did the last workshop say of them?',
  'codes.monitor-results': 'Which monitors failed at the last emission test?',
  'provenance.recent-clear': 'Who cleared the codes, when, why, and which were they?',
  'provenance.cold-start': 'Why was the engine warm, when a cold start was agreed?',
  'provenance.recording': 'Who made the recording, with what, and may it be made again with me in the car?',
  'provenance.distance': 'Why do the control units not agree on the distance?',
  'provenance.calibration': 'Which software is in the control units, and where is the original?',
  'provenance.claims': 'How do you explain that the recording does not show what the advertisement says?',
  provenance: 'May the recording be made again, with me in the car?',
  body: 'Which accidents did the car have, and who repaired them?',
  leaks: 'Since when does it leak, and how much is filled up?',
  brakes: 'When were discs, pads and fluid changed?',
  papers: 'When can the missing papers be shown?',
});

/** The question that is nearest to a rule or point: its own, else that of its system or topic. */
export function questionAbout(id: string): string | undefined {
  return QUESTIONS[id] ?? QUESTIONS[id.split('.')[0]!];
}
