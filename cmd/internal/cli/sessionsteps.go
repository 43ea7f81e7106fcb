package cli

import "breakcue/cmd/internal/session"

// stepList is what session --steps prints with --json.
type stepList struct {
	Schema string         `json:"schema"`
	Engine string         `json:"engine"`
	Steps  []session.Step `json:"steps"`
}

// printSteps prints the whole job for the engine and the dial.
func (f *sessionFlags) printSteps(env Env) error {
	if f.resume != "" || f.input != "" {
		return fail(ExitUsage, "give --engine and --dial with it, nothing else", "--steps only prints what there is to do")
	}
	if !f.practisesDemo() {
		if err := f.checkSheets(); err != nil {
			return err
		}
	}
	sheets, err := f.loadSheets()
	if err != nil {
		return err
	}
	sheets.AtOnce = sheets.Engine.Breaker.Sets == 2 && (f.live.sets == 2 || len(f.rec.tones) == 2)
	steps, err := session.Steps(sheets)
	if err != nil {
		return &Failure{Code: ExitFailed, Err: err, Hint: noFollowing}
	}
	if f.asJSON {
		return printJSON(env.Out, stepList{"breakcue.steps/1", sheets.Engine.Name, steps})
	}
	return session.PrintSteps(env.Out, sheets, steps)
}
