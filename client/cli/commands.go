package cli

import (
	"github.com/spf13/cobra"

	"hod/client/calc"
	"hod/client/crew"
	"hod/client/device"
	"hod/client/pages"
	"hod/client/planning"
	"hod/client/readings"
	"hod/client/session"
)

// section is commands that belong together.
type section struct {
	title    string
	commands []*cobra.Command
}

// sections are all that hod can do, in the order in which the help lists them. To add a command, add it to its line
// here.
func sections(env *session.Env, release string) []section {
	return []section{
		{"The crew's day", []*cobra.Command{
			crew.NewBegin(env), crew.NewBatch(env), readings.NewTest(env), crew.NewPlace(env), crew.NewDiscard(env),
			crew.NewEnd(env), crew.NewTreat(env),
			crew.NewProgress(env), crew.NewFinish(env), crew.NewMethod(env), crew.NewCover(env), crew.NewUncover(env),
			crew.NewWet(env), readings.NewCure(env), readings.NewWeather(env),
			crew.NewStock(env), crew.NewShift(env), crew.NewNote(env), readings.NewBreak(env),
		}},
		{"What the record shows", []*cobra.Command{
			newBoard(env), newOverview(env), newMap(env), newCharts(env), newNext(env), newTomorrow(env),
			newJoints(env), newForecast(env), newDay(env), newFlags(env), newWhy(env), newLog(env), newLink(env),
			pages.New(env), pages.NewRecord(env),
		}},
		{"Corrections", []*cobra.Command{newUndo(env), newAmend(env), newAnswer(env), newSettle(env)}},
		{"The plan", []*cobra.Command{
			planning.NewZone(env), planning.NewMix(env), planning.NewPlan(env),
			planning.NewBlank(env),
		}},
		{"This device", []*cobra.Command{
			device.NewJoin(env), device.NewRekey(env), device.NewSync(env),
			device.NewStatus(env), device.NewExport(env), device.NewImport(env), device.NewVerify(env),
			newCompletion(env), newVersion(env, release),
		}},
		{"Without a record", []*cobra.Command{calc.New(env.Streams)}},
	}
}
