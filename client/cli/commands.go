package cli

import "github.com/spf13/cobra"

// section is commands that belong together.
type section struct {
	title    string
	commands []*cobra.Command
}

// sections are all that hod can do, in the order in which the help lists them. To add a command, add it to its line here.
func sections(env *Env) []section {
	return []section{
		{"The crew's day", []*cobra.Command{
			newBatch(env), newTest(env), newPlace(env), newDiscard(env), newTreat(env),
			newProgress(env), newFinish(env), newMethod(env), newCover(env), newUncover(env), newWet(env), newCure(env), newWeather(env),
			newStock(env), newShift(env), newNote(env), newBreak(env),
		}},
		{"What the record shows", []*cobra.Command{
			newBoard(env), newNext(env), newJoints(env), newForecast(env), newDay(env), newFlags(env), newWhy(env), newLog(env), newLink(env),
		}},
		{"Corrections", []*cobra.Command{newUndo(env), newAmend(env), newAnswer(env), newSettle(env)}},
		{"The plan", []*cobra.Command{newZone(env), newMix(env), newPlan(env)}},
		{"This device", []*cobra.Command{newJoin(env), newRekey(env), newSync(env), newStatus(env), newExport(env), newImport(env), newVerify(env), newCompletion(env), newVersion(env)}},
		{"Without a record", []*cobra.Command{newCalc(env)}},
	}
}
