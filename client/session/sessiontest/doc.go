// Package sessiontest makes open records for tests of the commands' rooms. Only tests import it.
package sessiontest
